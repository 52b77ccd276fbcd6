// The numbers beside and below the map: the key, the reading, the table. They say what the colours show.
"use strict";
{
    const { Verdicts, swatch, signed, TIE, TOGETHER, FIRST } = window.clubMap;
    const KEYS = ["solid", "usable", "marginal", "none"];
    const CHANGE = [["gained", "gained", "usable now, not before"], ["lost", "lost", "usable before, not now"], ["both", "both", "usable before and now"]];

    const SAY_AFTER_MS = 700;
    const setText = (node, text) => {
        if (node.textContent !== text) node.textContent = text;
    };

    const km2 = (value) => {
        const figure = value > 0 && value < 9.95 ? value.toFixed(1) : Math.round(value).toLocaleString("en-GB").replace(/,/g, TIE);
        return `${figure}${TIE}km²`;
    };
    const share = (value) => {
        if (value > 0 && value < 0.01) return `under 1${TIE}%`;
        if (value > 0.99 && value < 1) return `over 99${TIE}%`;
        return `${Math.round(100 * value)}${TIE}%`;
    };
    const signedKm2 = (value) => (Math.abs(value) < 0.05 ? "nothing" : `${value < 0 ? "−" : "+"}${km2(Math.abs(value))}`);

    const GROUND = [["unknown", "not known", "nothing can be said here"], ["edge", "edge of the imported ground", "nothing is said beyond it"]];

    const item = (key, word, meaning, needs) => {
        const row = document.createElement("li");
        const canvas = document.createElement("canvas");
        canvas.setAttribute("aria-hidden", "true");
        swatch(canvas, key);
        const text = document.createElement("span");
        text.append(Object.assign(document.createElement("b"), { textContent: word }), ` ${meaning} `);
        if (needs) text.append(Object.assign(document.createElement("span"), { className: "key-needs", textContent: needs }));
        const area = Object.assign(document.createElement("span"), { className: "key-area" });
        row.append(canvas, text, area);
        return row;
    };

    const line = (words) => Object.assign(document.createElement("li"), { className: "key-line", textContent: words });

    // What the colours mean, with the area of each; drawn again for a new theme or for a map of changes.
    class Key {
        constructor(list, verdicts) {
            Object.assign(this, { list, verdicts, isChange: false, end: line("") });
        }

        draw(isChange = this.isChange) {
            this.isChange = isChange;
            const verdicts = this.verdicts.map((verdict, at) => item(KEYS[at], verdict.label, this.meaning(verdict, at), this.needs(verdict, at)));
            const changes = CHANGE.map((entry) => item(...entry));
            const rows = isChange ? [...changes, line("On the kept map beside it:"), ...verdicts] : verdicts;
            this.list.replaceChildren(...rows, ...GROUND.map((entry) => item(...entry)), this.end);
        }

        // Where the map of the relay that is shown ends, and why.
        say(end) {
            setText(this.end, end);
            this.end.hidden = !end;
        }

        meaning(verdict, at) {
            return at === 3 ? "bare ground: do not count on being heard" : verdict.meaning;
        }

        needs(verdict, at) {
            if (at === 3) return "";
            const chance = verdict.probability > 0 ? `, ${Math.round(100 * verdict.probability)}${TIE}% or more` : "";
            return `margin ${signed(verdict.margin_db, 0).replace("±0", "0")}${TIE}dB or more${chance}`;
        }

        fill(values, of) {
            [...this.list.querySelectorAll(".key-area")].forEach((cell, at) => {
                if (at >= (this.isChange ? CHANGE : this.verdicts).length) cell.textContent = "";
                else cell.textContent = of ? `${km2(values[at])}, ${share(values[at] / of)}` : km2(values[at]);
            });
        }
    }

    // What is read out: one sentence, once the hand rests, and never the same twice.
    class Announcer {
        constructor(node) {
            Object.assign(this, { node, timer: 0 });
        }

        say(text) {
            clearTimeout(this.timer);
            this.timer = setTimeout(() => setText(this.node, text), SAY_AFTER_MS);
        }
    }

    // The one number that moves, in words.
    class Reading {
        constructor(root, announcer) {
            this.main = root.querySelector("[data-main]");
            this.more = root.querySelector("[data-more]");
            this.announcer = announcer;
        }

        say(areas, more) {
            this.write(`Usable on ${km2(areas.usableKm2)}, ${share(areas.share)} of the known ground.`, more);
        }

        write(main, more) {
            setText(this.main, main);
            setText(this.more, more);
            this.announcer.say(`${main} ${more}`.trim());
        }
    }

    // The chance of a usable signal at every pixel of one relay, by loss: equal loss is an equal chance.
    const probabilityOf = ({ raster, reach }) => {
        const { codes, head } = raster;
        const ofCode = new Float32Array(65536).fill(-1);
        const found = new Float32Array(codes.length);
        for (let at = 0; at < codes.length; at++) {
            const code = codes[at];
            if (code < FIRST) continue;
            if (ofCode[code] < 0) ofCode[code] = reach.probability((code - FIRST) * head.step_db);
            found[at] = ofCode[code];
        }
        return found;
    };

    // Of several, the best relay's at every place.
    const bestProbability = (several, lattice) => {
        const best = new Float32Array(lattice.rows * lattice.columns);
        for (const each of several) {
            const laid = each.verdicts.lay(probabilityOf(each), lattice, 0);
            for (let at = 0; at < best.length; at++) if (laid[at] > best[at]) best[at] = laid[at];
        }
        return best;
    };

    // The chance in each class, averaged over its area, in words.
    const chances = ({ lattice, rowKm2, classes }, probability) => {
        const sums = [0, 0, 0, 0];
        const areas = [0, 0, 0, 0];
        for (let row = 0, at = 0; row < lattice.rows; row++) {
            for (const end = at + lattice.columns; at < end; at++) {
                if (classes[at] > 3) continue;
                sums[classes[at]] += rowKm2[row] * probability[at];
                areas[classes[at]] += rowKm2[row];
            }
        }
        return sums.map((sum, at) => {
            const chance = sum / areas[at];
            return chance > 0.99 ? `over 99${TIE}%` : chance < 0.01 ? `less than 1${TIE}%` : `${Math.round(100 * chance)}${TIE}%`;
        });
    };

    // The table under the map, for the radio as the sliders have it.
    class Numbers {
        constructor(table, club, shelf) {
            Object.assign(this, { table, club, shelf });
        }

        rowOf(slug) {
            return this.table.querySelector(`tr[data-relay="${slug}"]`);
        }

        // Fills the rows whose rasters are here; says which are still missing.
        fill(setup, words) {
            const { club } = this;
            this.table.querySelector("[data-radio]").textContent = words;
            const found = new Map();
            const missing = [];
            for (const relay of club.relays) {
                const want = club.want(relay, setup);
                const raster = this.shelf.find(want);
                if (!raster) {
                    missing.push(want);
                    continue;
                }
                const reach = club.reach(relay, setup);
                found.set(relay.slug, { raster, reach, verdicts: Verdicts.of(raster, reach.thresholds(club.verdicts)) });
            }
            const onTheAir = club.relaysOf({ relay: TOGETHER }).filter((relay) => found.has(relay.slug));
            for (const [slug, each] of found) {
                const others = onTheAir.filter((relay) => relay.slug !== slug).map((relay) => found.get(relay.slug).verdicts);
                this.write(this.rowOf(slug), each.verdicts, chances(each.verdicts, probabilityOf(each)), missing.length ? null : others);
            }
            const foot = this.rowOf(TOGETHER);
            if (foot && onTheAir.length && !missing.length) {
                const all = onTheAir.map((relay) => found.get(relay.slug));
                const together = Verdicts.together(all.map((each) => each.verdicts));
                this.write(foot, together, chances(together, bestProbability(all, together.lattice)), null);
            }
            return missing;
        }

        write(row, verdicts, sure, others) {
            if (!row) return;
            const { km2: byClass, knownKm2 } = verdicts.areas();
            const cells = this.club.verdicts.map((verdict, at) => {
                const note = `${share(knownKm2 ? byClass[at] / knownKm2 : 0)}${byClass[at] ? `; ${`${sure[at]} sure`.replace(/ /g, TIE)}` : ""}`;
                return this.cell(verdict.label[0].toUpperCase() + verdict.label.slice(1), km2(byClass[at]), note);
            });
            const alone = others ? km2(verdicts.aloneKm2(others)) : "";
            while (row.cells.length > 1) row.deleteCell(-1);
            row.append(...cells, this.cell("Through it alone", alone, ""));
        }

        cell(label, text, note) {
            const cell = document.createElement("td");
            cell.className = "num";
            cell.dataset.label = label;
            cell.append(`${text} `);
            if (note) cell.append(Object.assign(document.createElement("small"), { className: "under quiet", textContent: note }));
            return cell;
        }
    }

    Object.assign(window.clubMap, { Key, Reading, Announcer, Numbers, km2, signedKm2 });
}
