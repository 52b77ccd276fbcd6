// What loss a radio can stand, and the verdict at a loss: the same sums as relays/reach/thresholds.py, with the server's figures.
// tests/browser/test_map_numbers.py holds the two together.
"use strict";
window.clubMap = {};
{
    const ratio = (db) => 10 ** (db / 10);
    const decibels = (quotient) => 10 * Math.log10(quotient);

    // Noise from outside raises the threshold of the radio's receiver by this much, behind so much loss.
    const noiseRise = (way, couplingDb) =>
        decibels(1 + Math.max(ratio(way.external_db) - 1, 0) / ratio(couplingDb) / ratio(way.receiver_db));

    // How many dB the threshold moves for each dB that the noise moves.
    const noiseShare = (way, couplingDb) => {
        if (way.external_db <= 0) return 0;
        const coupling = ratio(couplingDb);
        const total = ratio(way.receiver_db) + (ratio(way.external_db) - 1) / coupling;
        return ratio(way.external_db) / coupling / total;
    };

    // Standard normal distribution; Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.2.17, good to 7.5e-8.
    const normal = (x) => {
        const t = 1 / (1 + 0.2316419 * Math.abs(x));
        const tail = ((((1.330274429 * t - 1.821255978) * t + 1.781477937) * t - 0.356563782) * t + 0.31938153) * t;
        const upper = (Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI)) * tail;
        return x >= 0 ? 1 - upper : upper;
    };

    const rootOfSquares = (...values) => Math.sqrt(values.reduce((sum, value) => sum + value * value, 0));

    // What houses or trees round an antenna take, as relays/propagation/surroundings.py has it: Recommendation ITU-R P.2108-1, 3.1.
    const surroundingsLoss = (around, mhz, heightM) => {
        const above = around.clutter_m - heightM;
        if (above <= 0) return 0;
        const angle = (Math.atan(above / around.street_m) * 180) / Math.PI;
        const nu = 0.342 * Math.sqrt(mhz / 1000) * Math.sqrt(above * angle);
        return 6.9 + 20 * Math.log10(Math.sqrt((nu - 0.1) ** 2 + 1) + nu - 0.1) - 6.03;
    };

    class Reach {
        // budget: of one relay and radio; walls: of the chosen place, or undefined outdoors; around: what stands there; mhz, location: of that relay.
        // setup: what the sliders say. radio: what they start from. aboveDb: the quality asked for.
        constructor({ budget, walls, around, mhz, location, setup, radio, aboveDb, dipoleDbi }) {
            const lineDb = Math.max(0, budget.line_db + setup.lineDb);
            const gainDbi = budget.gain_dbi + setup.gainDb;
            const antennaDb = setup.gainDb - (lineDb - budget.line_db);
            const coupling = (line, gain) => line + budget.body_db + Math.max(dipoleDbi - gain, 0);
            const before = coupling(budget.line_db, budget.gain_dbi);
            const after = coupling(lineDb, gainDbi);
            const placeDb = location.full_db * Math.max(0, Math.min(1, 1 - (setup.heightM - location.clutter_m) / location.fade_m));
            const entry = walls || { in: { loss_db: 0, sigma_db: 0 }, out: { loss_db: 0, sigma_db: 0 } };
            this.lineDb = lineDb;
            this.in = {
                largestDb: budget.in.largest_db + decibels(setup.powerW / radio.power_w) + antennaDb - aboveDb - entry.in.loss_db - surroundingsLoss(around, mhz.in, setup.heightM),
                sigmaDb: rootOfSquares(budget.in.steady_sigma_db, placeDb, entry.in.sigma_db),
            };
            this.out = {
                largestDb: budget.out.largest_db + antennaDb - (noiseRise(budget.out, after) - noiseRise(budget.out, before)) - aboveDb - entry.out.loss_db - surroundingsLoss(around, mhz.out, setup.heightM),
                sigmaDb: rootOfSquares(budget.out.steady_sigma_db, placeDb, noiseShare(budget.out, after) * budget.out.noise_spread_db, entry.out.sigma_db),
            };
            this.ways = { both: [this.in, this.out], in: [this.in], out: [this.out] }[setup.ways];
        }

        // The largest loss of each verdict but the last, best first.
        thresholds(verdicts) {
            return verdicts.slice(0, -1).map((verdict) =>
                Math.min(...this.ways.map((way) => way.largestDb - Math.max(verdict.margin_db, verdict.deviates * way.sigmaDb))));
        }

        margins(lossDb) {
            return { in: this.in.largestDb - lossDb, out: this.out.largestDb - lossDb };
        }

        // Of a usable signal, in the worse of the directions that count.
        probability(lossDb) {
            return Math.min(...this.ways.map((way) => normal((way.largestDb - lossDb) / way.sigmaDb)));
        }
    }

    Object.assign(window.clubMap, { Reach, surroundingsLoss, normal });
}
