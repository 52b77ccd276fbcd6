// One place: marked on the maps, its margins read off the raster at once, the whole path asked of the server.
"use strict";
{
    const { signed, TIE } = window.clubMap;
    const ASK_AFTER_MS = 350;

    class Place {
        // sides: the maps that are in sight; moved: called when the mark has moved or gone.
        constructor(club, { form, answer, announcer, token, sides, moved }) {
            Object.assign(this, { club, form, answer, announcer, token, sides, moved, text: "", html: "", at: null, markers: [], controller: null, timer: 0 });
        }

        // Coordinates that were clicked or typed: marked at once, and asked for from now on.
        choose(latitude, longitude) {
            this.text = this.form.elements.place.value = `${latitude.toFixed(5)}, ${longitude.toFixed(5)}`;
            this.mark({ latitude, longitude });
        }

        // Text that the server has to read; the old mark says nothing about it.
        type(text) {
            this.text = text;
            this.mark(null);
        }

        // Mark a place on every map and remember it for as long as the page is open; without one, unmark.
        mark(at = this.at) {
            this.at = at;
            for (const marker of this.markers) marker.remove();
            this.markers = at ? this.sides().map((side) => this.markOn(side)) : [];
            this.moved();
        }

        markOn(side) {
            const icon = L.divIcon({ className: "place-mark", html: "<span></span>", iconSize: [22, 22] });
            return L.marker([this.at.latitude, this.at.longitude], { icon, interactive: false, keyboard: false }).addTo(side.map);
        }

        // What the map itself says at the place, for a caption.
        words(side) {
            if (!this.at || !side.verdicts) return "";
            const found = side.marginsAt(this.at.latitude, this.at.longitude);
            if (!found) return "At the place: nothing is known of the ground.";
            const relay = side.club.relaysOf(side.setup).length > 1 ? ` (${found.relay.name})` : "";
            return `At the place${relay}: ${signed(found.in)}${TIE}dB into the relay, ${signed(found.out)}${TIE}dB from it.`;
        }

        later(setup) {
            if (!this.at) return;
            clearTimeout(this.timer);
            this.timer = setTimeout(() => this.ask(setup), ASK_AFTER_MS);
        }

        async ask(setup) {
            clearTimeout(this.timer);
            if (this.controller) this.controller.abort();
            this.controller = new AbortController();
            const { signal } = this.controller;
            const body = new FormData();
            const fields = {
                place: this.text, relay: setup.relay, radio: setup.radio, height_m: setup.heightM, power_w: setup.powerW,
                gain_db: setup.gainDb, line_db: setup.lineDb, building: setup.building, surroundings: setup.surroundings, grade: setup.grade,
                ways: setup.ways,
            };
            if (setup.antennaM !== null) fields.antenna_height_m = setup.antennaM;
            for (const [name, value] of Object.entries(fields)) body.append(name, value);
            this.answer.setAttribute("aria-busy", "true");
            try {
                const found = await fetch(this.club.point_url, { method: "POST", body, signal, headers: { "X-CSRFToken": this.token } });
                const text = await found.text();
                if (!found.ok && found.status !== 422) throw new Error(`status ${found.status}`);
                this.show(text);
            } catch (problem) {
                if (problem.name === "AbortError") return;
                this.answer.textContent = "The answer could not be fetched. Is the connection up? Ask again in a moment.";
            }
            this.answer.removeAttribute("aria-busy");
        }

        // Put an answer in the place of the last one: what was open stays open, and the focus stays where it was.
        show(html) {
            const { answer } = this;
            if (html === this.html && answer.firstChild) return;
            const open = [...answer.querySelectorAll("details[open] > summary")].map((summary) => summary.textContent);
            const held = answer.contains(document.activeElement) ? document.activeElement : null;
            const nth = held && [...answer.querySelectorAll(held.tagName)].indexOf(held);
            this.html = html;
            answer.innerHTML = html;
            for (const summary of answer.querySelectorAll("details > summary")) {
                if (open.includes(summary.textContent)) summary.parentElement.open = true;
            }
            if (held) (answer.querySelectorAll(held.tagName)[nth] || this.form.elements.place).focus({ preventScroll: true });
            const said = answer.querySelector("[data-said]");
            const place = answer.querySelector("[data-place]");
            if (place) this.mark(coordinatesOf(place.dataset.place));
            else if (answer.querySelector("[data-no-place]")) this.mark(null);
            // A refusal is a notice that is read out by itself.
            this.announcer.say(said ? said.dataset.said : "");
        }
    }

    // Coordinates as relays/places.py reads them; a locator is left to the server.
    const coordinatesOf = (text) => {
        const found = text.replace(/−/g, "-").match(/^\s*(-?\d{1,2}(?:\.\d+)?)\s*°?\s*[,; ]\s*(-?\d{1,3}(?:\.\d+)?)\s*°?\s*$/);
        if (!found) return null;
        const [latitude, longitude] = [Number(found[1]), Number(found[2])];
        return Math.abs(latitude) <= 90 && Math.abs(longitude) <= 180 ? { latitude, longitude } : null;
    };

    Object.assign(window.clubMap, { Place, coordinatesOf });
}
