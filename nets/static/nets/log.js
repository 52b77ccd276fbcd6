// The log page: writes down what is typed at once, in this browser, and lets the wire carry it to the site.

import { bare, Book } from "./log/book.js";
import { Correction } from "./log/correction.js";
import { byId, make, times } from "./log/dom.js";
import { List } from "./log/list.js";
import { Names } from "./log/names.js";
import { Reminder } from "./log/reminder.js";
import { Roll } from "./log/roll.js";
import { Store } from "./log/store.js";
import { Wire } from "./log/wire.js";

const FIELDS = ["call_sign", "report", "traffic", "via", "via_note", "name", "place", "time", "notes"];
const TIME = /^\d{1,2}[:.h ]?\d{2}([:.]\d{2})?\s*(z|utc|gmt)?$/i;
const WHOLE = /^([A-Z]{1,2}|[A-Z][0-9]|[0-9][A-Z])[0-9][A-Z0-9]{0,3}[A-Z](\/.*)?$/;

const page = JSON.parse(byId("log-page").textContent);
const store = new Store(page.keptAs);
const clock = times(page.zone);
const form = byId("entry-form");
const field = Object.fromEntries(FIELDS.map((name) => [name, byId(`entry_${name}`)]));

// The computer's clock may be wrong; the difference to the site's is kept for the times without a connection.
// Less than two seconds are the answer's way here rather than a difference of clocks.
let ahead = store.note("clock") ?? 0;
const now = () => Date.now() - ahead;
function compareClocks(siteNow) {
    const found = Date.now() - Date.parse(siteNow);
    if (Math.abs(found - ahead) < 2000) return;
    ahead = found;
    store.keepNote("clock", ahead);
}

// Two entries of one keyboard never have the same time: the list is in the order in which they were typed.
let last = 0;
function timeHeard() {
    last = Math.max(now(), last + 1);
    return new Date(last).toISOString();
}

function newKey() {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16)); // plain http on a local network
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

function say(words) {
    byId("said").textContent = words;
}

// The log as the site drew it, or as this browser saw it later: a page opened without a connection is an old one.
const book = new Book(store, page);
book.absorb(page.log);
const seen = store.note("seen");
if (seen?.version > book.version) book.absorb(seen);

const list = new List(clock, (key) => openCorrection(key));
const roll = new Roll(rollAct, (callSign) => queue({ do: "roll_add", call_sign: callSign }));
const names = new Names(field.call_sign, byId("names"), store, hint);
const reminder = new Reminder({ everyMin: page.identifyEveryMin, who: page.who, now, clock, store });
const correction = new Correction({
    store,
    clock,
    send: (entry, changes) => queue({ do: "correct", entry, changes }),
    historyAddress: (key) => page.urls.entry.replace("00000000-0000-0000-0000-000000000000", key),
});
byId("keys").hidden = false;
// On a phone the script waits folded until it is wanted; how it was left is remembered.
byId("script").open = store.note("script") ?? matchMedia("(min-width: 62rem)").matches;
byId("script").addEventListener("toggle", (event) => store.keepNote("script", event.target.open));

// Entering -------------------------------------------------------------------------------------------

let confirmed = ""; // what Enter was already asked about
let warning = ""; // stands until something is typed
let heardThen = ""; // when the refused entry in the form was first typed

form.addEventListener("submit", (event) => {
    event.preventDefault();
    log();
});
form.addEventListener("input", () => {
    warning = "";
    store.keepDraft("entry", typed());
    hint();
});
for (const select of form.querySelectorAll("select")) {
    select.addEventListener("keydown", (event) => {
        if (event.key !== "Enter") return; // browsers do not send a form from a select
        event.preventDefault();
        form.requestSubmit();
    });
}

function typed() {
    return Object.fromEntries(FIELDS.map((name) => [name, field[name].value]));
}

function log() {
    const values = typed();
    values.call_sign = values.call_sign.trim().toUpperCase();
    const problem = whyNot(values);
    if (problem) {
        warn(...problem);
        return;
    }
    // Not before: a name that appears in a field while somebody types into it ends up there twice.
    const [, name, place] = names.find(bare(values.call_sign)) ?? [];
    values.name ||= name ?? "";
    values.place ||= place ?? "";
    const again = Boolean(book.heard(values.call_sign));
    queue({ do: "check_in", ...values, heard_at: heardThen || timeHeard() });
    names.close();
    clear();
    const plain = bare(values.call_sign);
    say(`${plain} logged${again ? " again" : ""}${plain === values.call_sign ? "" : `, signed ${values.call_sign}`}. ${values.traffic ? `${values.traffic} traffic.` : ""}`);
}

// What must be asked before it is written down: nothing typed, a time that is none, part of a call sign.
function whyNot({ call_sign: callSign, time }) {
    if (!callSign) return [field.call_sign, "Type a call sign, or as much of it as you heard."];
    if (time.trim() && !TIME.test(time.trim())) return [field.time, `“${time}” is not a time; write 19:42, or 2342z for UTC.`];
    if (WHOLE.test(callSign) || names.find(callSign) || confirmed === callSign) return null;
    confirmed = callSign;
    const fits = names.fitting(callSign);
    if (fits.length === 1) {
        field.call_sign.value = fits[0][0];
        confirmed = "";
        store.keepDraft("entry", typed());
        return [field.call_sign, `${fits[0][0]}, ${fits[0][1]}? Enter again logs it.`];
    }
    return [field.call_sign, `“${callSign}” is not a whole call sign. Enter again logs it as it is; correct it when you have heard the rest.`];
}

function warn(where, words) {
    names.close();
    warning = words;
    hint();
    where.setAttribute("aria-describedby", "entry-hint");
    say(words);
    where.focus();
}

function clear() {
    for (const name of FIELDS) field[name].value = "";
    field.via.value = page.usualVia;
    confirmed = warning = heardThen = "";
    store.dropDraft("entry");
    hint();
    field.call_sign.focus();
}

// Who that is, and whether they are in the log already. Duplicates are told, never refused.
function hint() {
    const callSign = field.call_sign.value.trim().toUpperCase();
    const words = [];
    const known = names.find(bare(callSign));
    if (known) words.push(`${[known[1], known[2]].filter(Boolean).join(", ") || callSign}${known[3] ? "" : ", visitor"}.`);
    const earlier = callSign && book.heard(callSign);
    if (earlier) words.push(`Heard already, number ${earlier.number}; logging it again marks it.`);
    byId("entry-hint").textContent = warning || words.join(" ");
}

// Roll call and corrections ----------------------------------------------------------------------------

function rollAct(line, what) {
    if (what !== "heard") {
        queue({ do: "roll", line: line.key, state: what });
        return;
    }
    // The line's own key: two people ticking it make one check-in. Where that one was struck out, a new one.
    const key = book.has(line.key) ? newKey() : line.key;
    queue({
        do: "check_in", key, call_sign: line.call_sign, name: "", place: "", report: "", via: page.usualVia, via_note: "",
        traffic: "", time: "", notes: "", heard_at: timeHeard(),
    });
    say(`${line.call_sign} logged. ${roll.next ? `Next: ${roll.next.call_sign}.` : "Everybody has been called."}`);
}

function openCorrection(key, draft = null) {
    const entry = book.entries().find((each) => each.key === key);
    if (entry) correction.open(entry, draft);
}

document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.shiftKey || byId("correction").open) return;
    if (event.key === "F2") openCorrection(book.entries().at(-1)?.key);
    else if (event.key === "F4") reminder.done();
    else if (event.key === "F8" && roll.next) rollAct(roll.next, "heard");
    else if (event.key === "F9" && roll.next) rollAct(roll.next, "no_answer");
    else return;
    event.preventDefault();
});

// Sending ----------------------------------------------------------------------------------------------

let connection = "connected";

function queue(operation) {
    store.add({ key: newKey(), ...operation });
    draw();
    wire.now();
}

function draw() {
    list.draw(book.entries());
    roll.draw(book.roll());
    reminder.session(book.openedAt, book.closedAt);
    drawQueue();
    drawRefused();
}

function drawQueue() {
    const count = store.waiting().length;
    const unsent = count === 1 ? "1 entry not yet sent" : `${count} entries not yet sent`;
    const line = byId("queue");
    const login = make("a", { href: page.urls.login, target: "_blank" }, "Log in in another window");
    const kept = store.keeps ? "kept in this browser" : "kept only while this page is open, because the browser refuses more; do not close it";
    let state = count ? "waiting" : "sent";
    const refused = store.refused().length;
    const left = refused === 1 ? "1 entry was not accepted; it waits below." : `${refused} entries were not accepted; they wait below.`;
    let words = [count ? `${unsent}, sending.` : refused ? left : "Everything is sent."];
    if (refused && !count) state = "waiting";
    if (connection === "no connection") words = [count ? `No connection. ${unsent}, ${kept}.` : "No connection. Go on logging; what you type is kept."];
    if (connection === "logged out") words = [`You are logged out, or this login may no longer keep this log. ${count ? `${unsent}, ${kept}. ` : ""}`, login, "."];
    if (connection === "another login") words = [`Somebody else has logged in in this browser. ${unsent}, ${kept} until ${page.who} logs in again. `, login, "."];
    if (connection !== "connected") state = "stopped";
    const strangers = Store.strangers(page.keptAs);
    if (strangers) words.push(` This browser also keeps ${strangers} that somebody else typed; they go when that person opens this page.`);
    if (state === "sent" && byId("close-problem")) byId("close-problem").textContent = "";
    const text = words.map((word) => word.textContent ?? word).join("");
    if (line.textContent === text) return; // a status that says the same again would be read out again
    line.dataset.state = state;
    line.replaceChildren(...words);
}

function drawRefused() {
    const boxes = store.refused().map(({ operation, refused }) => {
        const what = operation.do === "correct" ? "A correction" : operation.call_sign ?? "A line of the roll";
        const box = make("div", { class: "refused", role: "alert" },
            make("p", {}, make("b", { class: "call-sign" }, what), ` was not accepted. ${refused}`),
            make("div", { class: "actions" },
                operation.do === "check_in" && make("button", { class: "button", type: "button", onclick: () => putRight(operation) }, "Put it right"),
                make("button", { class: "button", type: "button", onclick: () => sendAgain(operation) }, "Send it again"),
                make("button", { class: "button careful", type: "button", onclick: () => drop(operation) }, "Drop it")));
        return box;
    });
    if (byId("refused").childElementCount || boxes.length) byId("refused").replaceChildren(...boxes);
}

function drop(operation) {
    store.settle(operation.key);
    draw();
    field.call_sign.focus();
}

function sendAgain(operation) {
    store.settle(operation.key);
    queue(operation);
}

function putRight(operation) {
    if (FIELDS.some((name) => name !== "via" && field[name].value.trim())) {
        warn(field.call_sign, "Log what is in the form first, or empty it; the refused entry waits.");
        return;
    }
    heardThen = operation.heard_at;
    for (const name of FIELDS) field[name].value = operation[name] ?? "";
    store.keepDraft("entry", typed());
    drop(operation);
}

const wire = new Wire(store, page, book.version, {
    changed(data) {
        compareClocks(data.now);
        book.absorb(data);
        if (isOver()) forget();
        else store.keepNote("seen", book.asSeen());
        const wasClosed = page.log.closed_at;
        if (data.closed_at !== wasClosed || Boolean(data.opened_at) !== Boolean(page.log.opened_at)) drawState(data);
        draw();
        hint();
    },
    state(word) {
        connection = word;
        drawQueue();
    },
    isOver,
});

// When the log is closed and everything is sent, nothing of it stays in this browser.
function isOver() {
    return Boolean(book.closedAt) && !store.waiting().length && !store.refused().length && !store.drafts().length;
}

function forget() {
    store.forget();
    globalThis.caches?.delete("club-log-page").catch(() => {});
}

function drawState({ opened_at: openedAt, closed_at: closedAt }) {
    const words = closedAt ? `Closed at ${clock.local(closedAt)}.` : `Started at ${clock.local(openedAt)}.`;
    if (openedAt) byId("desk-state").replaceChildren(words);
    if (closedAt && byId("close-form")) {
        byId("close").replaceChildren(
            make("h2", { id: "close-title" }, "This session is closed"),
            make("p", {}, "Somebody else closed it. Entries and corrections are still taken; the report shows them as made after closing."),
            make("div", { class: "actions" }, make("a", { class: "button main", href: page.urls.report }, "See the report")));
    }
}

// The last page of the evening: not before everything that was typed has arrived.
byId("close-form")?.addEventListener("submit", (event) => {
    const count = store.waiting().length + store.refused().length;
    if (!count && connection === "connected") {
        store.dropDraft("remark");
        return;
    }
    event.preventDefault();
    byId("close-problem").textContent = count
        ? `Not yet: ${count} of what you typed has not reached the site. It is kept here; close the session when it has gone.`
        : "Not yet: there is no connection. Nothing is lost; close the session when it is back.";
});
byId("remark")?.addEventListener("input", (event) => store.keepDraft("remark", event.target.value));

addEventListener("beforeunload", (event) => {
    if (!store.keeps && store.waiting().length) event.preventDefault();
});
addEventListener("storage", draw);

// Beginning ----------------------------------------------------------------------------------------------

// A page opened without a connection carries the time of its last opening; then the difference that was kept holds.
if (navigator.onLine && store.note("clock") === null) compareClocks(page.now);
const draft = store.draft("entry");
if (draft) for (const name of FIELDS) if (draft[name] !== undefined) field[name].value = draft[name];
if (byId("remark") && store.draft("remark")) byId("remark").value = store.draft("remark");
draw();
hint();
const half = store.drafts().find((name) => name.startsWith("correct-"));
if (half) openCorrection(half.slice("correct-".length), store.draft(half));
wire.now();
names.fetch(page.urls.names, isOver);
if (isOver()) forget();
else keepThePage();

// A worker that opens this page when there is no connection. Browsers offer none over plain http but to localhost.
async function keepThePage() {
    try {
        const registration = await navigator.serviceWorker.register(page.urls.worker, { scope: page.urls.page });
        await navigator.serviceWorker.ready;
        const parts = performance.getEntriesByType("resource").map((each) => each.name).filter((name) => name.includes("/static/"));
        registration.active?.postMessage({ keep: [location.pathname, ...new Set(parts)] });
    } catch {
        // the log works without it; only a reload without a connection then has to wait
    }
}
