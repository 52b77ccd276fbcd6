// Loss around relays, as relays/coverage/packed.py packs it: fetched, unpacked, the last ones kept.
"use strict";
{
    const KEPT = 36;
    // A request younger than this may finish although the slider has moved on: otherwise a steady drag would never show anything.
    const PATIENCE_MS = 250;
    // After each cancellation the next request may take twice as long, so that a slow server still shows something.
    const LONGEST_PATIENCE_MS = 4000;
    const BEYOND = 0;
    const UNKNOWN = 1;
    const FIRST = 2;

    const unpack = (buffer) => {
        const length = new DataView(buffer).getUint32(0, true);
        const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
        const { rows, columns } = head;
        const low = new Uint8Array(buffer, 4 + length, rows * columns);
        const high = new Uint8Array(buffer, 4 + length + rows * columns, rows * columns);
        const codes = new Uint16Array(rows * columns);
        let at = 0;
        for (let row = 0; row < rows; row++) {
            let left = row ? codes[at - columns] : 0;
            for (let column = 0; column < columns; column++, at++) {
                const zigzag = low[at] | (high[at] << 8);
                left = (left + ((zigzag >>> 1) ^ -(zigzag & 1))) & 0xffff;
                codes[at] = left;
            }
        }
        return new LossRaster(head, codes);
    };

    class LossRaster {
        constructor(head, codes) {
            this.head = head;
            this.codes = codes;
            this.lattice = {
                rows: head.rows, columns: head.columns, north: head.north, west: head.west,
                latitudeStep: head.latitude_step, longitudeStep: head.longitude_step,
            };
        }

        // The loss at the pixel nearest to a place, dB; null where nothing is known.
        lossAt(latitude, longitude) {
            const { rows, columns, north, west, latitudeStep, longitudeStep } = this.lattice;
            const row = Math.round((north - latitude) / latitudeStep);
            const column = Math.round((((longitude - west + 1e-9) % 360 + 360) % 360 - 1e-9) / longitudeStep);
            if (row < 0 || row >= rows || column < 0 || column >= columns) return null;
            const code = this.codes[row * columns + column];
            return code < FIRST ? null : (code - FIRST) * this.head.step_db;
        }
    }

    const addressOf = (want, detail) => {
        const query = new URLSearchParams({ receiver: want.receiverM, detail });
        if (want.antennaM !== null) query.set("antenna", want.antennaM);
        // Walls take more where the way comes in steeply, so indoors every place has a loss of its own.
        if (want.building !== "outdoors") query.set("building", want.building);
        return `${want.url}?${query}`;
    };

    // All rasters that are in memory, whoever asked for them.
    class RasterShelf {
        constructor() {
            this.held = new Map();
        }

        find(want) {
            return this.held.get(addressOf(want, "fine")) || this.held.get(addressOf(want, "draft"));
        }

        isFine(want) {
            return this.held.has(addressOf(want, "fine"));
        }

        async fetch(want, detail, signal) {
            const address = addressOf(want, detail);
            const known = this.held.get(address);
            if (known) return known;
            const answer = await fetch(address, { signal, headers: { Accept: "application/octet-stream, application/json" } });
            if (!answer.ok) {
                const told = await answer.json().catch(() => ({}));
                throw new Error(told.problem || "The map could not be loaded. The table below still holds.");
            }
            const raster = unpack(await answer.arrayBuffer());
            this.held.set(address, raster);
            // What was answered from the store is as fine as it gets.
            if (raster.head.detail === "fine") this.held.set(addressOf(want, "fine"), raster);
            while (this.held.size > KEPT) this.held.delete(this.held.keys().next().value);
            return raster;
        }
    }

    // The requests of one map: at most one at a time, the newest wish wins, the older request is cancelled. A draft is let
    // through before the fine answer, and a hand that moves on waits for no fine answer at all.
    // What was asked for is told back when it has come: by then the sliders may stand elsewhere.
    class Loader {
        constructor(shelf, { arrived, failed }) {
            Object.assign(this, { shelf, arrived, failed, flight: null, waiting: {}, patienceMs: PATIENCE_MS });
        }

        load(setup, wants, detail) {
            const { flight } = this;
            if (flight) {
                const isYoung = performance.now() - flight.began < this.patienceMs;
                const waits = flight.detail === detail ? isYoung : detail === "fine";
                if (waits) {
                    if (detail === "draft") delete this.waiting.fine;
                    this.waiting[detail] = [setup, wants, detail];
                    return;
                }
                this.cancel();
                if (flight.detail === detail) this.patienceMs = Math.min(2 * this.patienceMs, LONGEST_PATIENCE_MS);
            }
            this.begin(setup, wants, detail);
        }

        cancel() {
            if (this.flight) this.flight.controller.abort();
            this.flight = null;
            this.waiting = {};
        }

        async begin(setup, wants, detail) {
            const flight = { detail, began: performance.now(), controller: new AbortController() };
            this.flight = flight;
            try {
                await Promise.all(wants.map((want) => this.shelf.fetch(want, detail, flight.controller.signal)));
                if (this.flight === flight) {
                    this.patienceMs = PATIENCE_MS;
                    this.arrived(setup, performance.now() - flight.began);
                }
            } catch (problem) {
                if (this.flight === flight && problem.name !== "AbortError") this.failed(problem.message);
            }
            if (this.flight !== flight) return;
            this.flight = null;
            const first = this.waiting.draft ? "draft" : "fine";
            const next = this.waiting[first];
            delete this.waiting[first];
            if (next) this.begin(...next);
        }
    }

    Object.assign(window.clubMap, { RasterShelf, Loader, unpack, BEYOND, UNKNOWN, FIRST });
}
