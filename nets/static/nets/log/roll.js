// The roll: the next station to call, large, and the whole list.

import { byId, make } from "./dom.js";

export class Roll {
    #facts = "";

    // act(line, what): what is heard, no_answer, waiting or off
    constructor(act, add) {
        this.act = act;
        this.next = null;
        byId("roll-add").addEventListener("submit", (event) => {
            event.preventDefault();
            const field = byId("roll-call-sign");
            if (!field.value.trim()) return;
            add(field.value.trim().toUpperCase());
            field.value = "";
            field.focus();
        });
    }

    draw(lines) {
        const facts = JSON.stringify(lines);
        if (facts === this.#facts) return;
        this.#facts = facts;
        this.next = lines.find((line) => line.waits) ?? null;
        const held = document.activeElement?.closest?.("#roll-section")?.id && document.activeElement.dataset.act;
        byId("roll-next").replaceChildren(...this.#nextUp(lines));
        byId("roll-list").replaceChildren(...lines.map((line) => this.#line(line)));
        if (held) byId("roll-next").querySelector(`[data-act="${held}"]`)?.focus();
    }

    #nextUp(lines) {
        if (!lines.length) return [make("p", { class: "quiet" }, "Nobody is on the list.")];
        if (!this.next) return [make("p", {}, "Everybody on the list has been called.")];
        const left = lines.filter((line) => line.waits).length;
        return [
            make("p", { class: "roll-who" }, make("span", { class: "call-sign" }, this.next.call_sign), this.next.name),
            make("div", { class: "actions" },
                this.#button(this.next, "heard", "Heard", "button main"), this.#button(this.next, "no_answer", "No answer"),
                make("span", { class: "quiet" }, `${left} to call`)),
        ];
    }

    #line(line) {
        const state = line.isHeard ? "heard" : { waiting: "to be called", no_answer: "no answer" }[line.state];
        const item = make("li", {}, make("span", { class: "call-sign" }, line.call_sign), " ", line.name, " ",
            make("span", { class: "roll-state" }, state));
        if (!line.isHeard && !line.unsent) {
            item.append(make("div", { class: "actions" }, this.#button(line, "heard", "Heard"),
                line.state === "waiting" ? this.#button(line, "no_answer", "No answer") : this.#button(line, "waiting", "Call again"),
                this.#button(line, "off", "Take off")));
        }
        return item;
    }

    #button(line, what, words, css = "button") {
        return make("button", { class: css, type: "button", "data-act": what, onclick: () => this.act(line, what) },
            words, make("span", { class: "unseen" }, ` ${line.call_sign}`));
    }
}
