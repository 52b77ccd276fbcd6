// Completing a call sign: a text field with a list under it (WAI-ARIA Authoring Practices 1.2, combobox with a list).
// The names are fetched once and kept; what is typed is looked for anywhere in the call sign, ends before middles,
// because a call is often heard from its end, and in names.

import { make } from "./dom.js";

const SHOWN = 6;

export class Names {
    #known = [];
    #shown = [];
    #active = -1;

    // onChange(): the field's text changed, by hand or by choice.
    constructor(field, list, store, onChange) {
        this.field = field;
        this.list = list;
        this.store = store;
        this.onChange = onChange;
        this.#known = store.note("names") ?? [];
        field.setAttribute("role", "combobox");
        field.setAttribute("aria-autocomplete", "list");
        field.setAttribute("aria-controls", list.id);
        field.setAttribute("aria-expanded", "false");
        field.addEventListener("input", () => this.#look());
        field.addEventListener("keydown", (event) => this.#key(event));
        field.addEventListener("blur", () => this.close());
    }

    // isOver(): whether nothing may be kept any more
    async fetch(address, isOver) {
        try {
            const response = await fetch(address, { redirect: "manual" });
            if (!response.ok) return;
            this.#known = await response.json();
            if (!isOver()) this.store.keepNote("names", this.#known);
        } catch {
            // without a connection the names of last time serve
        }
    }

    // [call sign, name, place, on the roster] of a call sign that is known.
    find(callSign) {
        return this.#known.find(([known]) => known === callSign);
    }

    fitting(text) {
        const wanted = text.trim().toUpperCase();
        if (!wanted) return [];
        const ranked = [];
        for (const each of this.#known) {
            const [callSign, name] = each;
            const rank = callSign.startsWith(wanted) ? 0 : callSign.endsWith(wanted) ? 1 : callSign.includes(wanted) ? 2
                : wanted.length > 1 && name.toUpperCase().split(" ").some((word) => word.startsWith(wanted)) ? 3 : -1;
            if (rank >= 0) ranked.push([rank + (each[3] ? 0 : 0.5), each]);
        }
        return ranked.sort(([one], [other]) => one - other).slice(0, SHOWN).map(([, each]) => each);
    }

    get isOpen() {
        return !this.list.hidden;
    }

    #look() {
        this.#shown = this.fitting(this.field.value);
        this.#active = -1;
        const typed = this.field.value.trim().toUpperCase();
        if (this.#shown.length === 1 && this.#shown[0][0] === typed) this.#shown = [];
        this.list.replaceChildren(...this.#shown.map((each, index) => this.#option(each, index)));
        this.#open(this.#shown.length > 0);
        this.onChange();
    }

    #option([callSign, name, place, isMember], index) {
        const option = make("li", { id: `${this.list.id}-${index}`, role: "option", "aria-selected": "false" },
            make("span", { class: "call-sign" }, callSign),
            make("span", {}, [name, place].filter(Boolean).join(", ") + (isMember ? "" : name || place ? ", visitor" : "visitor")));
        // pointerdown, not click: the field must not lose focus first
        option.addEventListener("pointerdown", (event) => {
            event.preventDefault();
            this.#take(index);
            this.close();
        });
        return option;
    }

    #key(event) {
        if (event.key === "Escape" && this.isOpen) {
            event.preventDefault();
            this.close();
        } else if (event.key === "Escape" && this.field.value) {
            event.preventDefault();
            this.field.value = "";
            this.field.dispatchEvent(new Event("input", { bubbles: true }));
        } else if (event.key === "ArrowDown" || event.key === "ArrowUp") {
            if (!this.isOpen) this.#look();
            if (!this.#shown.length) return;
            event.preventDefault();
            const step = event.key === "ArrowDown" ? 1 : -1;
            const count = this.#shown.length;
            this.#take(this.#active < 0 && step < 0 ? count - 1 : (this.#active + step + count) % count);
        }
    }

    // The chosen call sign stands in the field at once; Enter then logs it.
    #take(index) {
        this.#active = index;
        [...this.list.children].forEach((option, at) => option.setAttribute("aria-selected", String(at === index)));
        this.field.setAttribute("aria-activedescendant", `${this.list.id}-${index}`);
        this.field.value = this.#shown[index][0];
        this.onChange();
    }

    #open(isOpen) {
        this.list.hidden = !isOpen;
        this.field.setAttribute("aria-expanded", String(isOpen));
        this.field.removeAttribute("aria-activedescendant");
    }

    close() {
        this.#active = -1;
        this.#open(false);
    }
}
