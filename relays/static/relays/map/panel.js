// The sliders and choices: what they say, and what they mean in decibels.
"use strict";
{
    const { TOGETHER } = window.clubMap;
    const TIE = "\u00a0";
    const signed = (value, digits = 1) => {
        const figure = Math.abs(value).toFixed(digits);
        return (Number(figure) === 0 ? "±" : value < 0 ? "−" : "+") + figure;
    };
    const trimmed = (value, digits) => String(Number(value.toFixed(digits)));
    const metres = (value) => `${trimmed(value, 1)}${TIE}m`;
    // The power slider moves in decibels, so that each step buys the same.
    const wattsAt = (radio, steps) => radio.power_w * 10 ** (steps / 10);
    const watts = (value) => `${value >= 9.95 ? value.toFixed(0) : trimmed(value, value < 1 ? 2 : 1)}${TIE}W`;

    // A hundred times the power, 20 dB, is as far as the slider goes.
    const MOST_POWER_STEPS = 20;

    class Panel {
        constructor(club, { moved, settled }) {
            const named = (name) => document.getElementById(`id_${name}`);
            this.club = club;
            this.fields = Object.fromEntries(
                ["relay", "radio", "antenna", "height", "gain", "line", "power", "building", "surroundings", "grade", "ways"].map((name) => [name, named(name)]));
            for (const place of club.places) this.fields.building.add(new Option(place.label, place.key));
            for (const around of club.surroundings) this.fields.surroundings.add(new Option(around.label, around.key));
            for (const grade of club.grades) this.fields.grade.add(new Option(`${grade.label}: ${grade.meaning}`, grade.key));
            this.putBack();
            for (const name of ["relay", "radio"]) {
                this.fields[name].addEventListener("change", () => {
                    if (name === "radio") this.putBack();
                    else this.putRelayBack();
                    settled();
                });
            }
            for (const name of ["antenna", "height", "gain", "line", "power"]) {
                this.fields[name].addEventListener("input", () => {
                    this.say();
                    moved();
                });
                this.fields[name].addEventListener("change", settled);
            }
            for (const name of ["building", "surroundings", "grade", "ways"]) this.fields[name].addEventListener("change", settled);
            document.getElementById("reset").addEventListener("click", () => {
                this.putBack();
                settled();
            });
        }

        get radio() {
            return this.club.radioByKey.get(this.fields.radio.value);
        }

        get relay() {
            return this.club.relayBySlug.get(this.fields.relay.value);
        }

        // What a better feedline can give back at most, by any of the relays shown: none does better than no loss.
        get feedlineDb() {
            const shown = this.club.relaysOf({ relay: this.fields.relay.value });
            return Math.min(...shown.map((relay) => this.club.budgets[relay.slug][this.radio.key]?.line_db ?? 0));
        }

        get setup() {
            const { relay, radio, antenna, height, gain, line, power, building, surroundings, grade, ways } = this.fields;
            return {
                relay: relay.value, radio: radio.value,
                antennaM: relay.value === TOGETHER ? null : Number(antenna.value),
                heightM: Number(height.value), powerW: wattsAt(this.radio, Number(power.value)),
                gainDb: Number(gain.value), lineDb: Math.max(Number(line.value), -this.feedlineDb), building: building.value, surroundings: surroundings.value, grade: grade.value, ways: ways.value,
            };
        }

        // Set every control to a setup, such as the one that was kept.
        set(setup) {
            const { fields } = this;
            fields.relay.value = setup.relay;
            fields.radio.value = setup.radio;
            this.putBack();
            if (setup.antennaM !== null) this.stretch(fields.antenna, setup.antennaM);
            this.stretch(fields.height, setup.heightM);
            fields.gain.value = setup.gainDb;
            fields.line.value = setup.lineDb;
            fields.power.value = 10 * Math.log10(setup.powerW / this.radio.power_w);
            for (const name of ["building", "surroundings", "grade", "ways"]) fields[name].value = setup[name];
            this.say();
        }

        putBack() {
            const { fields, radio } = this;
            this.stretch(fields.height, radio.height_m);
            fields.power.max = Math.min(MOST_POWER_STEPS, Math.floor(10 * Math.log10(this.club.power.most_w / radio.power_w)));
            for (const name of ["gain", "line", "power"]) fields[name].value = 0;
            fields.building.value = radio.place;
            fields.surroundings.value = radio.surroundings;
            fields.grade.value = this.club.usual_grade;
            fields.ways.value = "both";
            this.putRelayBack();
        }

        putRelayBack() {
            const { antenna, line } = this.fields;
            line.min = -Math.ceil(this.feedlineDb / line.step) * line.step;
            antenna.disabled = !this.relay;
            if (this.relay) this.stretch(antenna, this.relay.antenna_height_m);
            this.say();
        }

        // A slider may start beyond its usual range or between its steps: the range makes room.
        stretch(field, value) {
            const offStep = Math.abs(value / Number(field.step) - Math.round(value / Number(field.step))) > 1e-9;
            if (offStep) field.step = 0.1;
            field.min = Math.min(Number(field.min), Math.max(1, Math.floor(value)));
            field.max = Math.max(Number(field.max), Math.ceil(value));
            field.value = value;
        }

        say() {
            const { fields, radio, relay } = this;
            const setup = this.setup;
            const tell = (name, text) => {
                document.querySelector(`output[for="id_${name}"]`).textContent = text;
                fields[name].setAttribute("aria-valuetext", text);
            };
            const against = (value, usual) => (value === usual ? "" : `, ${signed(value - usual, 1).replace(/\.0$/, "")}${TIE}m`);
            tell("antenna", relay ? metres(setup.antennaM) + against(setup.antennaM, relay.antenna_height_m) : "each as it is");
            tell("height", metres(setup.heightM) + against(setup.heightM, radio.height_m));
            tell("gain", `${signed(setup.gainDb)}${TIE}dB both ways`);
            const none = setup.lineDb === 0 && this.feedlineDb === 0;
            tell("line", none ? "there is none" : setup.lineDb === 0 ? "as it is" : `${signed(-setup.lineDb)}${TIE}dB both ways`);
            const powerDb = 10 * Math.log10(setup.powerW / radio.power_w);
            tell("power", `${watts(setup.powerW)}, ${signed(powerDb, 0)}${TIE}dB into the relay only`);
            document.getElementById("power-caution").hidden = setup.powerW <= this.club.power.caution_above_w;
        }
    }

    // A setup in words, for a caption; what is as it comes is not said.
    const inWords = (club, setup) => {
        const radio = club.radioByKey.get(setup.radio);
        const usual = club.asItIs(setup.relay, setup.radio);
        const parts = [setup.relay === TOGETHER ? "all relays together" : club.relayBySlug.get(setup.relay).name, radio.label];
        if (setup.antennaM !== usual.antennaM) parts.push(`relay’s antenna ${metres(setup.antennaM)}`);
        if (setup.heightM !== usual.heightM) parts.push(`your antenna ${metres(setup.heightM)}`);
        if (setup.gainDb) parts.push(`antenna ${signed(setup.gainDb)}${TIE}dB`);
        if (setup.lineDb) parts.push(`feedline ${signed(-setup.lineDb)}${TIE}dB`);
        if (Math.abs(setup.powerW / usual.powerW - 1) > 1e-6) parts.push(watts(setup.powerW));
        if (setup.building !== usual.building) parts.push(club.places.find((place) => place.key === setup.building).label);
        if (setup.surroundings !== usual.surroundings) parts.push(club.surroundings.find((each) => each.key === setup.surroundings).label);
        if (setup.grade !== usual.grade) parts.push(club.grades.find((grade) => grade.key === setup.grade).label);
        if (setup.ways !== "both") parts.push(setup.ways === "in" ? "into the relay" : "from the relay");
        return parts.join(", ");
    };

    Object.assign(window.clubMap, { Panel, inWords, signed, TIE });
}
