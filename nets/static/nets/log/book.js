// The log as this page knows it: what the site has, with what still waits here laid over it.

const byTime = (one, other) => one.heard_at.localeCompare(other.heard_at) || one.key.localeCompare(other.key);

const CALL_SIGN = /^([A-Z]{1,2}|[A-Z][0-9]|[0-9][A-Z])[0-9][A-Z0-9]{0,3}[A-Z]$/;

// The call sign without portable marks or a visitor's prefix, as the site keeps it: the longest part that has the shape.
export function bare(callSign) {
    const parts = callSign.toUpperCase().split("/").map((part) => part.replaceAll(" ", ""));
    const fitting = parts.filter((part) => CALL_SIGN.test(part));
    return fitting.sort((one, other) => other.length - one.length)[0] ?? callSign;
}

const signed = (callSign) => (bare(callSign) === callSign.toUpperCase() || !callSign.includes("/") ? "" : `Signed ${callSign.toUpperCase()}.`);

export class Book {
    #entries = new Map();
    #roll = new Map();

    constructor(store, page) {
        this.store = store;
        this.ways = page.ways;
        this.version = 0;
        this.openedAt = null;
        this.closedAt = null;
    }

    absorb(data) {
        this.version = data.version;
        this.openedAt = data.opened_at;
        this.closedAt = data.closed_at;
        for (const entry of data.entries) this.#entries.set(entry.key, entry);
        for (const line of data.roll) this.#roll.set(line.key, line);
    }

    asSeen() {
        return {
            version: this.version,
            opened_at: this.openedAt,
            closed_at: this.closedAt,
            entries: [...this.#entries.values()],
            roll: [...this.#roll.values()],
        };
    }

    has(key) {
        return this.#entries.has(key);
    }

    // Every entry in the order heard, numbered by station, those heard before marked.
    entries() {
        const entries = new Map([...this.#entries].map(([key, entry]) => [key, { ...entry, unsent: false }]));
        for (const operation of this.store.waiting()) {
            if (operation.do === "check_in" && !entries.has(operation.key)) {
                entries.set(operation.key, this.#unsent(operation));
            } else if (operation.do === "correct" && entries.has(operation.entry)) {
                this.#lay(operation.changes, entries.get(operation.entry));
            }
        }
        const numbers = new Map();
        const ordered = [...entries.values()].sort(byTime);
        for (const entry of ordered) {
            if (entry.is_struck) continue;
            entry.again = numbers.has(entry.call_sign);
            if (!entry.again) numbers.set(entry.call_sign, numbers.size + 1);
            entry.number = numbers.get(entry.call_sign);
        }
        return ordered;
    }

    #unsent(operation) {
        return {
            key: operation.key,
            call_sign: bare(operation.call_sign.toUpperCase()),
            is_whole: true,
            is_visitor: false,
            is_new: false,
            name: operation.name,
            place: operation.place,
            heard_at: operation.heard_at,
            typedTime: operation.time,
            is_late_entry: Boolean(operation.time),
            report: operation.report,
            via: operation.via,
            via_note: operation.via_note,
            path: this.#path(operation),
            traffic: operation.traffic,
            notes: [signed(operation.call_sign), operation.notes].filter(Boolean).join(" "),
            is_struck: false,
            corrections: 0,
            unsent: true,
        };
    }

    #lay(changes, entry) {
        const { time, ...others } = changes;
        Object.assign(entry, others, { unsent: true });
        if (time !== undefined) entry.typedTime = time;
        if ("via" in changes || "via_note" in changes) entry.path = this.#path(entry);
        if ("call_sign" in changes) entry.call_sign = bare(changes.call_sign.toUpperCase());
    }

    #path({ via, via_note: note }) {
        const words = this.ways[via] ?? via;
        return note ? `${words} (${note})` : words;
    }

    // The first entry of that station, if it was heard already.
    heard(callSign) {
        return this.entries().find((entry) => !entry.is_struck && entry.call_sign === bare(callSign));
    }

    // The lines of the roll in order: heard, no answer, or still to be called.
    roll() {
        const lines = new Map([...this.#roll].map(([key, line]) => [key, { ...line }]));
        for (const operation of this.store.waiting()) {
            if (operation.do === "roll" && lines.has(operation.line)) lines.get(operation.line).state = operation.state;
            const known = operation.do === "roll_add" && [...lines.values()].some((line) => line.call_sign === operation.call_sign);
            if (operation.do === "roll_add" && !known) {
                lines.set(operation.key, { key: operation.key, position: Infinity, call_sign: operation.call_sign, name: "", state: "waiting", unsent: true });
            }
        }
        const heard = new Set(this.entries().filter((entry) => !entry.is_struck).map((entry) => entry.call_sign));
        return [...lines.values()]
            .filter((line) => line.state !== "off")
            .map((line) => ({ ...line, isHeard: heard.has(line.call_sign) }))
            .map((line) => ({ ...line, waits: !line.isHeard && line.state === "waiting" }))
            .sort((one, other) => (one.position === other.position ? 0 : one.position - other.position));
    }
}
