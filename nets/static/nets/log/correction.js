// Correcting an entry in a dialogue: the fields of the entry form with what the log says. Only what was changed is sent,
// and what is half typed is kept like everything else.

import { byId } from "./dom.js";

const FIELDS = ["call_sign", "name", "place", "report", "via", "via_note", "traffic", "time", "notes"];

export class Correction {
    #entry = null;
    #before = {};

    // send(entry key, changes)
    constructor({ store, clock, send, historyAddress }) {
        Object.assign(this, { store, clock, send, historyAddress });
        this.dialog = byId("correction");
        this.fields = {};
        for (const name of FIELDS) {
            const copy = byId(`entry_${name}`).closest(".field").cloneNode(true);
            copy.querySelectorAll(".field-errors").forEach((each) => each.remove());
            const field = copy.querySelector("input, select");
            const label = copy.querySelector("label");
            field.id = `correction_${name}`;
            label.htmlFor = field.id;
            if (name === "time") label.textContent = "Time";
            for (const extra of ["role", "aria-controls", "aria-expanded", "aria-autocomplete", "aria-activedescendant", "aria-describedby", "autofocus"]) field.removeAttribute(extra);
            this.fields[name] = field;
            byId("correction-fields").append(copy);
        }
        byId("correction-form").addEventListener("input", () => this.#keep());
        byId("correction-form").addEventListener("submit", (event) => this.#submit(event));
        this.dialog.addEventListener("close", () => this.#leave());
    }

    open(entry, typed = null) {
        this.#entry = entry;
        this.#before = Object.fromEntries(FIELDS.map((name) => [name, entry[name] ?? ""]));
        this.#before.time = entry.typedTime || this.clock.local(entry.heard_at);
        for (const name of FIELDS) this.fields[name].value = typed?.[name] ?? this.#before[name];
        byId("correction-title").textContent = `Correct ${entry.call_sign}`;
        byId("correction-strike").textContent = entry.is_struck ? "Put it back" : "Strike it out";
        byId("correction-history").href = this.historyAddress(entry.key);
        byId("correction-history").hidden = entry.unsent;
        byId("correction-problem").textContent = "";
        if (!this.dialog.open) this.dialog.showModal();
        this.fields.call_sign.focus();
        this.fields.call_sign.select();
    }

    get key() {
        return this.#entry?.key;
    }

    #keep() {
        const typed = Object.fromEntries(FIELDS.map((name) => [name, this.fields[name].value]));
        this.store.keepDraft(`correct-${this.#entry.key}`, typed);
    }

    #submit(event) {
        const what = event.submitter?.value ?? "save";
        const changes = {};
        for (const name of FIELDS) {
            const value = this.fields[name].value.trim();
            if (value !== this.#before[name]) changes[name] = value;
        }
        if (what === "save" && "call_sign" in changes && !changes.call_sign) {
            event.preventDefault();
            byId("correction-problem").textContent = "There must be a call sign, or part of one. Strike the entry out if it was a mistake.";
            this.fields.call_sign.focus();
            return;
        }
        if (what === "strike") changes.is_struck = !this.#entry.is_struck;
        if (what !== "leave" && Object.keys(changes).length) this.send(this.#entry.key, changes);
    }

    // Closed in whatever way, Escape included: what was typed was sent or was not wanted.
    #leave() {
        this.store.dropDraft(`correct-${this.#entry.key}`);
        this.#entry = null;
    }
}
