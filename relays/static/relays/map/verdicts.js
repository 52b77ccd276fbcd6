// Verdicts at every pixel: of one relay, the best of several, or what differs between two; and the area of each.
"use strict";
{
    const { BEYOND, UNKNOWN, FIRST } = window.clubMap;
    // Classes 0 to 3 are the verdicts, best first.
    const NOT_KNOWN = 4;
    const OUTSIDE = 5;
    const CLASSES = 6;

    const tableOf = (thresholds, stepDb) => {
        const table = new Uint8Array(65536).fill(thresholds.length);
        for (let index = thresholds.length - 1; index >= 0; index--) {
            const last = Math.floor(thresholds[index] / stepDb + 1e-9) + FIRST;
            table.fill(index, 0, Math.max(0, Math.min(65536, last + 1)));
        }
        table[BEYOND] = OUTSIDE;
        table[UNKNOWN] = NOT_KNOWN;
        return table;
    };

    const same = (one, other) =>
        one.rows === other.rows && one.columns === other.columns && one.north === other.north &&
        one.west === other.west && one.latitudeStep === other.latitudeStep;

    const eastOf = (degrees) => ((degrees + 1e-9) % 360 + 360) % 360 - 1e-9;

    // The posts of the first lattice carried on over all of them; one mosaic has one set of posts.
    const around = (several) => {
        const first = several[0].lattice;
        if (several.every((each) => same(each.lattice, first))) return several[0];
        const { latitudeStep, longitudeStep } = first;
        let [top, bottom, left, right] = [0, first.rows - 1, 0, first.columns - 1];
        for (const { lattice } of several) {
            const row = Math.round((first.north - lattice.north) / latitudeStep);
            const half = (lattice.west - first.west + 540) % 360 - 180;
            const column = Math.round(half / longitudeStep);
            top = Math.min(top, row);
            left = Math.min(left, column);
            bottom = Math.max(bottom, row + Math.round(((lattice.rows - 1) * lattice.latitudeStep) / latitudeStep));
            right = Math.max(right, column + Math.round(((lattice.columns - 1) * lattice.longitudeStep) / longitudeStep));
        }
        const lattice = {
            latitudeStep, longitudeStep, north: first.north - top * latitudeStep, west: first.west + left * longitudeStep,
            rows: bottom - top + 1, columns: right - left + 1,
        };
        // A pixel's area goes with the cosine of its latitude: good to a few parts in ten thousand over a map.
        const cosine = (row) => Math.cos(((first.north - row * latitudeStep) * Math.PI) / 180);
        const rowKm2 = Array.from({ length: lattice.rows }, (_, at) => (several[0].rowKm2[0] * cosine(at + top)) / cosine(0));
        return { lattice, rowKm2 };
    };

    class Verdicts {
        constructor(lattice, rowKm2, classes) {
            Object.assign(this, { lattice, rowKm2, classes });
        }

        static of(raster, thresholds) {
            const table = tableOf(thresholds, raster.head.step_db);
            const classes = new Uint8Array(raster.codes.length);
            for (let at = 0; at < classes.length; at++) classes[at] = table[raster.codes[at]];
            return new Verdicts(raster.lattice, raster.head.row_km2, classes);
        }

        // The best of several at every place.
        static together(several) {
            const { lattice, rowKm2 } = around(several);
            const classes = Uint8Array.from(several[0].on(lattice));
            for (const each of several.slice(1)) {
                const other = each.on(lattice);
                for (let at = 0; at < classes.length; at++) if (other[at] < classes[at]) classes[at] = other[at];
            }
            return new Verdicts(lattice, rowKm2, classes);
        }

        // The classes on another lattice, nearest pixel.
        on(lattice) {
            return this.lay(this.classes, lattice, OUTSIDE);
        }

        // Any values of this lattice's pixels on another one.
        lay(values, lattice, beyond) {
            if (same(lattice, this.lattice)) return values;
            const own = this.lattice;
            const found = new values.constructor(lattice.rows * lattice.columns).fill(beyond);
            const ownColumn = Array.from({ length: lattice.columns }, (_, column) =>
                Math.round(eastOf(lattice.west + column * lattice.longitudeStep - own.west) / own.longitudeStep));
            for (let row = 0; row < lattice.rows; row++) {
                const ownRow = Math.round((own.north - lattice.north + row * lattice.latitudeStep) / own.latitudeStep);
                if (ownRow < 0 || ownRow >= own.rows) continue;
                for (let column = 0; column < lattice.columns; column++) {
                    if (ownColumn[column] < own.columns) {
                        found[row * lattice.columns + column] = values[ownRow * own.columns + ownColumn[column]];
                    }
                }
            }
            return found;
        }

        // km² by class, and of all ground of which something is known.
        areas() {
            const { rows, columns } = this.lattice;
            const km2 = new Float64Array(CLASSES);
            for (let row = 0, at = 0; row < rows; row++) {
                for (const end = at + columns; at < end; at++) km2[this.classes[at]] += this.rowKm2[row];
            }
            const knownKm2 = km2[0] + km2[1] + km2[2] + km2[3];
            return { km2, knownKm2, usableKm2: km2[0] + km2[1], share: knownKm2 ? (km2[0] + km2[1]) / knownKm2 : 0 };
        }

        // Usable ground that none of the others gives, km².
        aloneKm2(others) {
            const laid = others.map((other) => other.on(this.lattice));
            let total = 0;
            for (let row = 0, at = 0; row < this.lattice.rows; row++) {
                for (const end = at + this.lattice.columns; at < end; at++) {
                    if (this.classes[at] < 2 && laid.every((classes) => classes[at] >= 2)) total += this.rowKm2[row];
                }
            }
            return total;
        }
    }

    // What changed from one to the other: classes of their own, and km² gained and lost.
    const CHANGE = { GAINED: 0, LOST: 1, KEPT: 2, NEITHER: 3 };
    const change = (before, now) => {
        const { lattice, rowKm2 } = around([now, before]);
        const [earlier, later] = [before.on(lattice), now.on(lattice)];
        const km2 = [0, 0, 0, 0];
        const classes = new Uint8Array(later.length);
        for (let at = 0; at < classes.length; at++) {
            // Known by one of the two only: the other gives nothing there.
            if (later[at] >= NOT_KNOWN && earlier[at] >= NOT_KNOWN) {
                classes[at] = Math.min(later[at], earlier[at]);
                continue;
            }
            const [was, is] = [earlier[at] < 2, later[at] < 2];
            classes[at] = is ? (was ? CHANGE.KEPT : CHANGE.GAINED) : was ? CHANGE.LOST : CHANGE.NEITHER;
            km2[classes[at]] += rowKm2[Math.floor(at / lattice.columns)];
        }
        return { verdicts: new Verdicts(lattice, rowKm2, classes), gainedKm2: km2[0], lostKm2: km2[1] };
    };

    Object.assign(window.clubMap, { Verdicts, change, CLASSES });
}
