// One map with what it is drawn for: it finds its rasters, turns them into verdicts and paints them.
"use strict";
{
    const { Reach, surroundingsLoss, Loader, Verdicts, ReachLayer, LocatorGrid, projectionAt, drawGround, relayMarker, turnNames } = window.clubMap;
    const TOGETHER = "together";

    // Everything about the club that does not change while the page is open.
    class Club {
        constructor(data) {
            Object.assign(this, data);
            this.relayBySlug = new Map(data.relays.map((relay) => [relay.slug, relay]));
            this.radioByKey = new Map(data.radios.map((radio) => [radio.key, radio]));
        }

        relaysOf(setup) {
            if (setup.relay !== TOGETHER) return [this.relayBySlug.get(setup.relay)];
            const onTheAir = this.relays.filter((relay) => relay.on_the_air);
            return onTheAir.length ? onTheAir : this.relays;
        }

        want(relay, setup) {
            const own = setup.relay !== relay.slug || setup.antennaM === relay.antenna_height_m;
            return { relay, url: relay.loss_url, antennaM: own ? null : setup.antennaM, receiverM: setup.heightM, building: setup.building };
        }

        reach(relay, setup) {
            return new Reach({
                budget: this.budgets[relay.slug][setup.radio],
                walls: this.places.find((place) => place.key === setup.building).walls[relay.slug],
                around: this.surroundings.find((each) => each.key === setup.surroundings),
                mhz: relay.mhz,
                location: relay.location,
                setup,
                radio: this.radioByKey.get(setup.radio),
                aboveDb: this.grades.find((grade) => grade.key === setup.grade).above_db,
                dipoleDbi: this.dipole_dbi,
            });
        }

        // What is taken off for what stands round the antenna, in words; by the first of the relays shown.
        aroundInWords(setup) {
            const around = this.surroundings.find((each) => each.key === setup.surroundings);
            const lossDb = surroundingsLoss(around, this.relaysOf(setup)[0].mhz.in, setup.heightM);
            return lossDb >= 0.05 ? `Round your antenna ${lossDb.toFixed(1)}\u00a0dB is taken off both ways (${around.label}).` : "";
        }

        // The setup with everything that can be moved as the radio and the relay are.
        asItIs(relay, radio) {
            const from = this.radioByKey.get(radio);
            return {
                relay, radio,
                antennaM: relay === TOGETHER ? null : this.relayBySlug.get(relay).antenna_height_m,
                heightM: from.height_m, powerW: from.power_w, gainDb: 0, lineDb: 0, building: from.place, surroundings: from.surroundings,
                grade: this.usual_grade, ways: "both",
            };
        }
    }

    class Side {
        constructor(root, club, shelf, { changed, failed, busy, chosen, asked }) {
            Object.assign(this, { root, club, shelf, changed, failed, busy });
            // What the sliders say, and what is drawn: while one drags, the answer to where they stood a moment ago.
            this.setup = this.drawn = null;
            this.verdicts = null;
            this.loader = new Loader(shelf, {
                arrived: (asked, ms) => {
                    this.tookMs = ms;
                    this.arrived(asked);
                },
                failed: (message) => {
                    this.verdicts = null;
                    this.layer.show(null);
                    this.failed(message);
                },
            });
            this.map = this.drawMap(root.querySelector(".map"), chosen, asked);
        }

        drawMap(element, chosen, asked) {
            const { club } = this;
            const middle = club.relays.reduce((sum, relay) => sum + relay.latitude, 0) / club.relays.length;
            const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
            const map = L.map(element, {
                crs: projectionAt(middle), attributionControl: false, zoomSnap: 0.25, zoomDelta: 0.5, minZoom: 5, maxZoom: 17,
                zoomAnimation: !still, fadeAnimation: !still, inertia: !still, wheelPxPerZoomLevel: 90,
            });
            drawGround(map, club.relief);
            this.layer = new ReachLayer().addTo(map);
            new LocatorGrid().addTo(map);
            L.control.scale({ imperial: false, maxWidth: 110 }).addTo(map);
            const marks = club.relays.map((relay) => relayMarker(relay, chosen).addTo(map));
            map.on("moveend resize", () => turnNames(map, marks));
            map.on("click", (event) => asked(event.latlng.lat, event.latlng.lng));
            element.addEventListener("pointerdown", () => element.classList.remove("by-keyboard"));
            element.addEventListener("keyup", () => element.classList.add("by-keyboard"));
            element.addEventListener("keydown", (event) => {
                if (event.key === "Enter" && event.target === element) asked(map.getCenter().lat, map.getCenter().lng);
            });
            map.fitBounds(this.homeBounds(), { animate: false });
            turnNames(map, marks);
            return map;
        }

        goHome() {
            this.map.fitBounds(this.homeBounds(), { animate: false });
            this.home = { centre: this.map.getCenter(), zoom: this.map.getZoom() };
        }

        isAtHome({ centre, zoom }) {
            return Boolean(this.home) && this.home.zoom === zoom && this.home.centre.equals(centre, 1e-9);
        }

        // What is worth looking at first: the ground within some 25 km of the relays.
        homeBounds() {
            const around = L.latLngBounds([]);
            for (const relay of this.club.relays) around.extend(L.latLng(relay.latitude, relay.longitude).toBounds(50000));
            if (!this.club.relief) return around;
            const [[south, west], [north, east]] = this.club.relief.bounds;
            const ground = L.latLngBounds([Math.max(south, around.getSouth()), Math.max(west, around.getWest())],
                [Math.min(north, around.getNorth()), Math.min(east, around.getEast())]);
            return ground.isValid() ? ground : around;
        }

        wants() {
            return this.club.relaysOf(this.setup).map((relay) => this.club.want(relay, this.setup));
        }

        // Show a setup: at once if its rasters are here, else when they have come.
        show(setup, detail) {
            this.setup = setup;
            const wants = this.wants();
            const missing = wants.some((want) => !this.shelf.find(want));
            const coarse = detail === "fine" && wants.some((want) => !this.shelf.isFine(want));
            if (!missing) this.recolour();
            if (missing || coarse) {
                this.busy(true);
                this.loader.load(setup, wants, detail);
            } else {
                this.loader.cancel();
            }
        }

        // Heights and walls as they were asked for, everything else as it is now.
        arrived({ relay, radio, antennaM, heightM, building }) {
            if (relay !== this.setup.relay || radio !== this.setup.radio) return;
            this.recolour({ ...this.setup, antennaM, heightM, building });
        }

        recolour(setup = this.setup) {
            const relays = this.club.relaysOf(setup);
            const rasters = relays.map((relay) => this.shelf.find(this.club.want(relay, setup)));
            if (rasters.some((raster) => !raster)) return;
            this.drawn = setup;
            this.rasters = rasters;
            this.reaches = relays.map((relay) => this.club.reach(relay, setup));
            const found = rasters.map((raster, at) => Verdicts.of(raster, this.reaches[at].thresholds(this.club.verdicts)));
            this.verdicts = found.length > 1 ? Verdicts.together(found) : found[0];
            this.areas = this.verdicts.areas();
            this.layer.show(this.verdicts, false);
            this.busy(!this.wants().every((want) => this.shelf.isFine(want)));
            this.changed(this);
        }

        // The best relay's margins at a place, from the raster: what the map shows there. Null where nothing is known.
        marginsAt(latitude, longitude) {
            let best = null;
            (this.rasters || []).forEach((raster, at) => {
                const lossDb = raster.lossAt(latitude, longitude);
                if (lossDb === null) return;
                const reach = this.reaches[at];
                const margins = reach.margins(lossDb);
                const worse = Math.min(...reach.ways.map((way) => way.largestDb - lossDb));
                if (!best || worse > best.worse) {
                    best = { worse, lossDb, ...margins, probability: reach.probability(lossDb), relay: this.club.relaysOf(this.drawn)[at] };
                }
            });
            return best;
        }
    }

    Object.assign(window.clubMap, { Club, Side, TOGETHER });
}
