// Clocks, and the reminder to give one's call sign. It counts in words that stand still between minutes, speaks up once
// when the time has come, and waits until it is answered. It covers nothing and moves nothing.

import { byId } from "./dom.js";

const MINUTE_MS = 60000;

export class Reminder {
    #openedAt = null;
    #ended = false;
    #said = "";

    // now(): the site's time as this computer knows it
    constructor({ everyMin, who, now, clock, store }) {
        Object.assign(this, { everyMin, who, now, clock, store });
        byId("clocks").hidden = false;
        byId("reminder").hidden = false;
        byId("reminder-done").addEventListener("click", () => this.done());
        this.#tick();
        setInterval(() => this.#tick(), 1000);
    }

    session(openedAt, closedAt) {
        this.#openedAt = openedAt;
        this.#ended = Boolean(closedAt);
        this.#tick();
    }

    done() {
        this.store.keepNote("identified", this.now());
        this.#tick();
    }

    #tick() {
        byId("clock-local").textContent = this.clock.local(this.now());
        byId("clock-utc").textContent = this.clock.utc(this.now());
        const running = this.#openedAt && !this.#ended;
        byId("reminder-done").hidden = !running;
        if (!running) {
            this.#say(this.#ended ? "The session is over." : "Begins with the session.", "");
            return;
        }
        const last = Math.max(this.store.note("identified") ?? 0, Date.parse(this.#openedAt));
        const due = last + this.everyMin * MINUTE_MS;
        const left = Math.ceil((due - this.now()) / MINUTE_MS);
        if (left > 0) this.#say(`in ${left} minute${left === 1 ? "" : "s"}, at ${this.clock.local(due)}`, "");
        else this.#say("now", `Identify now: this is ${this.who}. It was due at ${this.clock.local(due)}.`);
    }

    #say(time, due) {
        if (this.#said === time + due) return;
        this.#said = time + due;
        byId("reminder-time").textContent = time;
        byId("reminder-due").textContent = due;
    }
}
