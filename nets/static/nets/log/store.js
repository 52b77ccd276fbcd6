// What this browser keeps until the site has it: operations to send, words half typed, the log as last seen.
// One entry of localStorage for each operation: it is written before the key press returns, it outlives the page,
// and two windows adding at once cannot overwrite each other's.

const PREFIX = "club-log";

export class Store {
    #base;
    #memory = new Map(); // where the browser refuses to keep anything: private windows, full disks
    #count = 0;

    constructor(keptAs) {
        this.#base = `${PREFIX}/${keptAs}/`;
        this.keeps = this.#tryToKeep();
    }

    #tryToKeep() {
        try {
            localStorage.setItem(`${this.#base}probe`, "1");
            localStorage.removeItem(`${this.#base}probe`);
            return true;
        } catch {
            return false;
        }
    }

    #write(name, value) {
        const text = JSON.stringify(value);
        try {
            localStorage.setItem(this.#base + name, text);
            this.#memory.delete(name);
        } catch {
            this.#memory.set(name, text);
            this.keeps = false;
        }
    }

    #read(name) {
        const text = this.#memory.get(name) ?? this.#kept(name);
        try {
            return text === null ? null : JSON.parse(text);
        } catch {
            return null; // half a value: nothing that we wrote
        }
    }

    #kept(name) {
        try {
            return localStorage.getItem(this.#base + name);
        } catch {
            return null;
        }
    }

    #remove(name) {
        this.#memory.delete(name);
        try {
            localStorage.removeItem(this.#base + name);
        } catch {
            // nothing was kept
        }
    }

    #names(start) {
        const found = new Set([...this.#memory.keys()].filter((name) => name.startsWith(start)));
        try {
            for (let index = 0; index < localStorage.length; index += 1) {
                const name = localStorage.key(index);
                if (name.startsWith(this.#base + start)) found.add(name.slice(this.#base.length));
            }
        } catch {
            // nothing was kept
        }
        return [...found].sort();
    }

    // Operations, in the order in which they were made. -------------------------------------------------

    add(operation) {
        this.#count += 1;
        const order = String(Date.now()).padStart(15, "0") + String(this.#count).padStart(5, "0");
        this.#write(`op/${order}-${operation.key}`, { operation, refused: "" });
    }

    #operations() {
        return this.#names("op/").map((name) => ({ name, ...this.#read(name) })).filter((each) => each.operation);
    }

    waiting() {
        return this.#operations().filter((each) => !each.refused).map((each) => each.operation);
    }

    refused() {
        return this.#operations().filter((each) => each.refused);
    }

    settle(key) {
        for (const name of this.#names("op/")) if (name.endsWith(key)) this.#remove(name);
    }

    refuse(key, sentence) {
        for (const each of this.#operations()) {
            if (each.operation.key === key) this.#write(each.name, { operation: each.operation, refused: sentence });
        }
    }

    // Words half typed. ----------------------------------------------------------------------------------

    draft(name) {
        return this.#read(`draft/${name}`);
    }

    keepDraft(name, values) {
        this.#write(`draft/${name}`, values);
    }

    dropDraft(name) {
        this.#remove(`draft/${name}`);
    }

    drafts() {
        return this.#names("draft/").map((name) => name.slice("draft/".length));
    }

    // Anything else small. ---------------------------------------------------------------------------------

    note(name) {
        return this.#read(`note/${name}`);
    }

    keepNote(name, value) {
        this.#write(`note/${name}`, value);
    }

    // When the log is closed and everything is sent, nothing of it stays in this browser.
    forget() {
        for (const name of this.#names("")) if (!name.startsWith("op/")) this.#remove(name);
    }

    // Operations of other people of this browser, which only they can send.
    static strangers(keptAs) {
        const own = keptAs.split("/");
        const found = new Set();
        try {
            for (let index = 0; index < localStorage.length; index += 1) {
                const [prefix, user, slug, date, kind] = localStorage.key(index).split("/");
                if (prefix === PREFIX && kind === "op" && user !== own[0] && slug === own[1] && date === own[2]) {
                    found.add(localStorage.key(index));
                }
            }
        } catch {
            // nothing was kept
        }
        return found.size;
    }
}
