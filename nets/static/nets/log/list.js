// The rows of the log, latest first. Rows that did not change are left alone, so that focus stays where it is.

import { byId, make } from "./dom.js";

export class List {
    #rows = new Map();

    constructor(clock, onCorrect) {
        this.clock = clock;
        this.onCorrect = onCorrect;
        this.body = byId("log-rows");
        this.body.replaceChildren(); // what the site drew is drawn again from the same facts
    }

    draw(entries) {
        const wanted = [...entries].reverse();
        let place = this.body.firstElementChild;
        for (const entry of wanted) {
            const row = this.#row(entry);
            if (row === place) place = place.nextElementSibling;
            else this.body.insertBefore(row, place);
        }
        while (place) {
            const next = place.nextElementSibling;
            place.remove();
            place = next;
        }
        const count = entries.filter((entry) => entry.number && !entry.again).length;
        byId("list-count").textContent = count;
        byId("list-word").textContent = count === 1 ? "station" : "stations";
        byId("list-empty").hidden = entries.length > 0;
    }

    #row(entry) {
        const facts = JSON.stringify(entry);
        const known = this.#rows.get(entry.key);
        if (known?.facts === facts) return known.row;
        const row = known?.row ?? make("tr", { "data-key": entry.key });
        const hadFocus = row.contains(document.activeElement);
        row.className = entry.is_struck ? "struck" : ["emergency", "priority"].includes(entry.traffic) ? "urgent" : "";
        row.replaceChildren(...this.#cells(entry));
        if (hadFocus) row.querySelector("button").focus();
        this.#rows.set(entry.key, { facts, row });
        return row;
    }

    #cells(entry) {
        const who = [entry.name, entry.place].filter(Boolean).join(", ");
        const when = entry.typedTime
            ? [entry.typedTime]
            : [this.clock.local(entry.heard_at), " ", make("small", {}, `${this.clock.utc(entry.heard_at)} UTC`)];
        return [
            make("td", { class: "num" }, entry.number ? String(entry.number) : ""),
            make("td", { class: "when" }, ...when),
            make("th", { scope: "row" }, make("span", { class: "call-sign" }, entry.call_sign), who && " ",
                who && make("span", { class: "who" }, who), " ", make("span", { class: "marks" }, ...this.#marks(entry))),
            make("td", {}, entry.report, entry.report && " ", make("span", { class: "path" }, entry.path)),
            make("td", {}, entry.traffic && make("b", { class: "traffic" }, entry.traffic), entry.traffic && " ", entry.notes),
            make("td", {}, make("button", { class: "button", type: "button", onclick: () => this.onCorrect(entry.key) },
                "Correct", make("span", { class: "unseen" }, ` ${entry.call_sign}`))),
        ];
    }

    #marks(entry) {
        const words = [];
        if (entry.is_struck) words.push("struck out");
        else {
            if (entry.again) words.push("again");
            if (entry.is_new && !entry.again) words.push("first time");
            if (entry.is_visitor) words.push("visitor");
            if (!entry.is_whole) words.push("part of a call sign");
            if (entry.is_late_entry) words.push("late entry");
            if (entry.is_after_closing) words.push("after closing");
            if (entry.corrections) words.push("corrected");
        }
        const marks = words.map((word) => make("span", {}, word));
        if (entry.unsent) marks.push(make("span", { class: "unsent" }, "not yet sent"));
        return marks;
    }
}
