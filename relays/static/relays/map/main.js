// Puts the page together: what is moved, what is kept, what is told.
"use strict";
{
    const { Club, Side, RasterShelf, Panel, Key, Reading, Announcer, Numbers, Place, coordinatesOf, change, inWords, signedKm2, km2 } = window.clubMap;
    const club = new Club(JSON.parse(document.getElementById("map-data").textContent));
    const one = (selector) => document.querySelector(selector);
    const FINE_AFTER_MS = 220;
    const TABLE_AFTER_MS = 300;

    for (const hidden of document.querySelectorAll("[data-needs-script]")) hidden.hidden = false;

    const shelf = new RasterShelf();
    const [rootNow, rootKept] = [one("#side-now"), one("#side-kept")];
    const [busy, problem] = [one("[data-busy]"), one("#map-problem")];
    const key = new Key(one("#key"), club.verdicts);
    const reading = new Reading(one("#reading"), new Announcer(one("#reading-said")));
    const numbers = new Numbers(one("#numbers"), club, shelf);
    const place = new Place(club, {
        form: one("#place-form"), answer: one("#answer"), announcer: new Announcer(one("#answer-said")),
        token: one("[name=csrfmiddlewaretoken]").value, sides: () => sides(), moved: () => sayPlace(),
    });
    const showChange = one("#show-change");
    // The second map is made when first wanted; `kept` is it while one compares.
    let other = null;
    let kept = null;
    let usual = null;
    const timers = {};

    const later = (name, ms, run) => {
        clearTimeout(timers[name]);
        timers[name] = setTimeout(run, ms);
    };

    const told = (message) => {
        problem.textContent = message;
        problem.hidden = !message;
        busy.hidden = true;
    };

    const asked = (latitude, longitude) => {
        place.choose(latitude, longitude);
        place.ask(now.setup);
    };

    const chosen = (slug) => {
        panel.fields.relay.value = slug;
        panel.fields.relay.dispatchEvent(new Event("change"));
    };

    const now = new Side(rootNow, club, shelf, {
        changed: () => {
            told("");
            tell();
        },
        failed: (message) => {
            told(message);
            reading.write("There is no map for this.", "");
            key.fill([]);
        },
        busy: (is) => {
            later("busy", 400, () => {
                busy.hidden = !is || !problem.hidden;
                busy.textContent = is ? "being worked out" : "";
            });
        },
        chosen, asked,
    });

    const sides = () => (kept ? [kept, now] : [now]);

    // The usable area of the radio and relay as they are: what a move is measured against.
    const measureUsual = () => {
        const setup = club.asItIs(now.setup.relay, now.setup.radio);
        const relays = club.relaysOf(setup);
        const rasters = relays.map((relay) => shelf.find(club.want(relay, setup)));
        if (rasters.some((raster) => !raster)) return null;
        const all = rasters.map((raster, at) => window.clubMap.Verdicts.of(raster, club.reach(relays[at], setup).thresholds(club.verdicts)));
        return { name: `${setup.relay} ${setup.radio}`, km2: window.clubMap.Verdicts.together(all).areas().usableKm2 };
    };

    const sayPlace = () => {
        for (const side of sides()) {
            if (side.setup) side.root.querySelector("[data-reading]").textContent = place.words(side);
        }
    };

    const tell = () => {
        const words = inWords(club, now.drawn);
        rootNow.querySelector("[data-words]").textContent = words;
        sayPlace();
        key.say(now.rasters.length === 1 ? now.rasters[0].head.end_sentence : "");
        const name = `${now.setup.relay} ${now.setup.radio}`;
        if (!usual || usual.name !== name) usual = measureUsual();
        if (kept && kept.verdicts) {
            const found = change(kept.verdicts, now.verdicts);
            reading.say(now.areas, `Against what was kept: ${km2(found.gainedKm2)} gained, ${km2(found.lostKm2)} lost.`);
            now.layer.show(showChange.checked ? found.verdicts : now.verdicts, showChange.checked);
            const both = found.verdicts.areas().km2[2];
            key.fill(showChange.checked ? [found.gainedKm2, found.lostKm2, both] : now.areas.km2, showChange.checked ? 0 : now.areas.knownKm2);
        } else {
            const asIs = inWords(club, now.setup) === inWords(club, club.asItIs(now.setup.relay, now.setup.radio));
            const more = asIs ? "Nothing is moved yet." : usual ? `What was moved buys ${signedKm2(now.areas.usableKm2 - usual.km2)}.` : "";
            reading.say(now.areas, more);
            key.fill(now.areas.km2, now.areas.knownKm2);
        }
        if (one("#bare")) one("#bare").textContent = club.aroundInWords(now.setup);
        later("table", TABLE_AFTER_MS, fillTable);
    };

    // The other relays are fetched when nothing else is to do, so that the table holds for all of them.
    const fillTable = async () => {
        const setup = now.setup;
        for (const want of numbers.fill(setup, inWords(club, setup).replace(/^[^,]*, /, ""))) {
            await shelf.fetch(want, "draft", undefined).catch(() => null);
            if (now.setup !== setup) return;
        }
        numbers.fill(setup, inWords(club, setup).replace(/^[^,]*, /, ""));
    };

    const remember = () => {
        const { relay, radio } = now.setup;
        const query = new URLSearchParams({ relay });
        // A station of one's own stays out of the address.
        if (!radio.startsWith("station-")) query.set("radio", radio);
        history.replaceState(null, "", `?${query}`);
        nameFiles(radio);
    };

    // The files hold a typical radio; a station of one's own has none, so they stay those of the radio before.
    let fileRadio = club.radioByKey.get(one("#id_radio").value);
    const nameFiles = (key) => {
        const isOwn = key.startsWith("station-");
        if (!isOwn) fileRadio = club.radioByKey.get(key);
        for (const link of document.querySelectorAll("#files [data-file]")) {
            const address = new URL(link.href);
            address.searchParams.set("radio", fileRadio.key);
            link.href = address;
        }
        one("[data-files-radio]").textContent = isOwn ? `a typical radio, ${fileRadio.label}, not for your station` : fileRadio.label;
    };

    const panel = new Panel(club, {
        moved: () => {
            now.show(panel.setup, "draft");
            later("fine", FINE_AFTER_MS, () => now.show(panel.setup, "fine"));
            place.later(panel.setup);
        },
        settled: () => {
            clearTimeout(timers.fine);
            told("");
            now.show(panel.setup, "fine");
            place.later(panel.setup);
            remember();
        },
    });

    // Two maps side by side move together.
    let leading = null;
    const tie = (from, to) => from.map.on("move", () => {
        if (!kept || leading === to) return;
        leading = from;
        to.map.setView(from.map.getCenter(), from.map.getZoom(), { animate: false });
        leading = null;
    });

    // After the maps have become narrower or wider: all of the ground again, or what the reader had gone to.
    const refit = () => {
        const [centre, zoom] = [now.map.getCenter(), now.map.getZoom()];
        const wasAtHome = now.isAtHome({ centre, zoom });
        for (const side of sides()) side.map.invalidateSize({ animate: false });
        if (wasAtHome) now.goHome();
        else now.map.setView(centre, zoom, { animate: false });
        if (kept) kept.map.setView(now.map.getCenter(), now.map.getZoom(), { animate: false });
    };

    one("#keep").addEventListener("click", () => {
        rootKept.hidden = false;
        one("[data-comparing]").hidden = false;
        if (!other) {
            other = new Side(rootKept, club, shelf, { changed: () => tell(), failed: told, busy: () => {}, chosen, asked });
            tie(now, other);
            tie(other, now);
        }
        kept = other;
        refit();
        place.mark();
        rootKept.querySelector("[data-words]").textContent = inWords(club, now.setup);
        kept.show(now.setup, "fine");
        one("#keep").textContent = "Keep this instead";
        tell();
    });

    one("#stop").addEventListener("click", () => {
        kept = null;
        rootKept.hidden = true;
        one("[data-comparing]").hidden = true;
        one("#keep").textContent = "Keep this and compare";
        showChange.checked = false;
        key.draw(false);
        refit();
        now.recolour();
        one("#keep").focus();
    });

    showChange.addEventListener("change", () => {
        key.draw(showChange.checked);
        tell();
    });

    one("#place-form").addEventListener("submit", (event) => {
        event.preventDefault();
        const found = coordinatesOf(place.form.elements.place.value);
        if (found) asked(found.latitude, found.longitude);
        else {
            place.type(place.form.elements.place.value);
            place.ask(now.setup);
        }
    });

    one("#map-form").addEventListener("submit", (event) => event.preventDefault());

    // Another theme, or paper: the same map in other colours.
    const repaint = () => {
        key.draw();
        for (const side of sides()) side.layer.repaint();
        if (now.verdicts) tell();
    };
    new MutationObserver(repaint).observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", repaint);

    // Paper is wider or narrower than the screen: what was in sight is fitted to it, and afterwards put back.
    let onScreen = null;
    const fitPaper = (isPaper) => {
        if (isPaper === Boolean(onScreen)) return;
        const { map } = now;
        const view = onScreen || { centre: map.getCenter(), zoom: map.getZoom(), bounds: map.getBounds() };
        onScreen = isPaper ? view : null;
        for (const side of sides()) side.map.invalidateSize({ animate: false });
        if (!isPaper) map.setView(view.centre, view.zoom, { animate: false });
        else map.fitBounds(now.isAtHome(view) ? now.homeBounds() : view.bounds, { animate: false });
        if (kept) kept.map.setView(map.getCenter(), map.getZoom(), { animate: false });
        repaint();
    };
    const paper = window.matchMedia("print");
    paper.addEventListener("change", () => fitPaper(paper.matches));
    window.addEventListener("afterprint", () => fitPaper(false));

    key.draw();
    now.map.invalidateSize({ animate: false });
    now.goHome();
    now.show(panel.setup, "fine");
    window.clubMap.page = { club, now, panel, place, kept: () => kept };
}
