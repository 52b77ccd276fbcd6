// Sending and asking. What waits in the store is sent until the site says that it has it; the site is asked every two
// seconds what changed. An answer that gets lost on the way does no harm: the same keys are simply sent again.

const POLL_MS = 2000;
const IDLE_POLL_MS = 15000; // while nobody looks, and when all is over
const LONGEST_WAIT_MS = 15000;
const TIMEOUT_MS = 12000;
const AT_ONCE = 40;
const MOST_ERRORS = 3;

export class Wire {
    #store;
    #urls;
    #from;
    #since = 0;
    #busy = false;
    #again = false;
    #timer = 0;
    #failures = 0;
    #errors = 0; // answers that say the site itself failed, in a row
    #listeners;

    // listeners: changed(data), state(word), isOver()
    constructor(store, page, since, listeners) {
        this.#store = store;
        this.#urls = page.urls;
        this.#from = page.from;
        this.#since = since;
        this.#listeners = listeners;
        addEventListener("online", () => this.now());
        addEventListener("storage", () => this.now());
        document.addEventListener("visibilitychange", () => document.hidden || this.now());
    }

    // As soon as possible: at once, or right after what is on its way.
    now() {
        this.#again = true;
        if (!this.#busy) this.#go();
    }

    async #go() {
        clearTimeout(this.#timer);
        this.#busy = true;
        this.#again = false;
        // After an error of the site one at a time, so that one entry it fails on does not hold up the others.
        const operations = this.#store.waiting().slice(0, this.#errors ? 1 : AT_ONCE);
        let state;
        try {
            state = await this.#exchange(operations);
            this.#failures = 0;
        } catch {
            state = "no connection";
            this.#failures += 1;
        }
        this.#busy = false;
        this.#listeners.state(state);
        const more = state === "connected" && (this.#again || this.#store.waiting().length > 0);
        this.#timer = setTimeout(() => this.#go(), more ? 0 : this.#pause(state));
    }

    #pause(state) {
        if (state !== "connected") return Math.min(LONGEST_WAIT_MS, POLL_MS * 2 ** Math.min(this.#failures, 3));
        return document.hidden || this.#listeners.isOver() ? IDLE_POLL_MS : POLL_MS;
    }

    async #exchange(operations) {
        const response = operations.length ? await this.#post(operations) : await this.#get();
        if (response.status === 304) return "connected";
        if (response.type === "opaqueredirect" || response.status === 401 || response.status === 403) return "logged out";
        if (response.status === 409) return "another login";
        if (!response.ok) {
            this.#fail(operations, response.status);
            throw new Error(`answer ${response.status}`);
        }
        this.#errors = 0;
        const data = await response.json();
        this.#since = data.version;
        for (const result of data.results ?? []) {
            if (result.saved) this.#store.settle(result.key);
            else this.#store.refuse(result.key, result.sentence);
        }
        this.#listeners.changed(data);
        return "connected";
    }

    #fail(operations, status) {
        this.#errors += 1;
        if (operations.length === 1 && this.#errors > MOST_ERRORS) {
            this.#store.refuse(operations[0].key, `The site failed on this entry (error ${status}).`);
            this.#errors = 1;
        }
    }

    #get() {
        return this.#fetch(`${this.#urls.entries}?since=${this.#since}`, {
            headers: { "If-None-Match": `"${this.#since}"` },
        });
    }

    #post(operations) {
        return this.#fetch(this.#urls.entries, {
            method: "POST",
            headers: { "Content-Type": "application/json", "X-CSRFToken": csrfToken() },
            body: JSON.stringify({ operations, since: this.#since, from: this.#from }),
        });
    }

    #fetch(address, options) {
        const stop = new AbortController();
        const timer = setTimeout(() => stop.abort(), TIMEOUT_MS);
        return fetch(address, { ...options, cache: "no-store", redirect: "manual", signal: stop.signal }).finally(() =>
            clearTimeout(timer),
        );
    }
}

// Read afresh each time: logging in again in another window changes it.
function csrfToken() {
    const cookie = document.cookie.split("; ").find((each) => each.startsWith("csrftoken="));
    return cookie ? cookie.slice("csrftoken=".length) : "";
}
