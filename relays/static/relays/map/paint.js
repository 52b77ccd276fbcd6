// The verdicts as colour and hatching, on a canvas that lies over the ground. Both are of the page's own tokens.
"use strict";
{
    // Hatching repeats after this many CSS pixels.
    const PERIOD = 9;
    const KEYS = ["solid", "usable", "marginal", "none", "unknown"];
    const CHANGE_KEYS = ["gained", "lost", "both", "none", "unknown"];

    const DRAW = {
        solid: (pen) => pen.fill("--reach-solid", 0.74),
        usable: (pen) => {
            pen.fill("--reach-usable", 0.5);
            pen.stripes("--reach-solid", 0.85, 1.6, 1);
        },
        marginal: (pen) => {
            pen.fill("--reach-marginal", 0.42);
            pen.dots("--reach-marginal-ink", 0.9, 1.25);
        },
        none: () => {},
        unknown: (pen) => {
            pen.stripes("--firm-rule", 0.55, 1, 1);
            pen.stripes("--firm-rule", 0.55, 1, -1);
        },
        // A plus and a minus: nothing that means a verdict on the map beside.
        gained: (pen) => {
            pen.fill("--reach-solid", 0.85);
            pen.bar("--paper", 0.9, 1.6, "across");
            pen.bar("--paper", 0.9, 1.6, "upright");
        },
        lost: (pen) => {
            pen.fill("--reach-lost", 0.85);
            pen.bar("--paper", 0.9, 1.6, "across");
        },
        both: (pen) => pen.fill("--reach-usable", 0.32),
    };

    // One repeat of a hatching, drawn once and then copied pixel by pixel: the map is coloured within a frame.
    class Pen {
        constructor(size, scale, style) {
            this.canvas = document.createElement("canvas");
            this.canvas.width = this.canvas.height = size;
            this.context = this.canvas.getContext("2d", { willReadFrequently: true });
            Object.assign(this, { size, scale, style });
        }

        ink(token, alpha) {
            this.context.globalAlpha = alpha;
            const colour = this.style.getPropertyValue(token).trim();
            this.context.fillStyle = this.context.strokeStyle = colour;
        }

        fill(token, alpha) {
            this.ink(token, alpha);
            this.context.fillRect(0, 0, this.size, this.size);
        }

        stripes(token, alpha, width, direction) {
            const { context, size } = this;
            this.ink(token, alpha);
            context.lineWidth = width * this.scale;
            context.beginPath();
            for (const shift of [-size, 0, size]) {
                context.moveTo(shift - size, direction > 0 ? size * 2 : -size);
                context.lineTo(shift + size * 2, direction > 0 ? -size : size * 2);
            }
            context.stroke();
        }

        // A short stroke in the middle of each repeat.
        bar(token, alpha, width, direction) {
            const { context, size } = this;
            const [long, thick] = [Math.round(0.6 * size), Math.max(1, Math.round(width * this.scale))];
            const [from, aside] = [Math.round((size - long) / 2), Math.round((size - thick) / 2)];
            this.ink(token, alpha);
            if (direction === "across") context.fillRect(from, aside, long, thick);
            else context.fillRect(aside, from, thick, long);
        }

        dots(token, alpha, radius) {
            const { context, size } = this;
            this.ink(token, alpha);
            for (const [x, y] of [[0.25, 0.25], [0.75, 0.75]]) {
                context.beginPath();
                context.arc(x * size, y * size, radius * this.scale, 0, 2 * Math.PI);
                context.fill();
            }
        }

        pixels() {
            return new Uint32Array(this.context.getImageData(0, 0, this.size, this.size).data.buffer);
        }
    }

    const tilesOf = (keys, size, scale) => {
        const style = getComputedStyle(document.documentElement);
        return keys.map((key) => {
            const pen = new Pen(size, scale, style);
            DRAW[key](pen);
            return pen.pixels();
        });
    };

    // The ground's edge as map.css has it, for the key.
    const drawEdge = (context, width, height, scale) => {
        context.strokeStyle = getComputedStyle(document.documentElement).getPropertyValue("--ink").trim();
        context.lineWidth = 1.5 * scale;
        context.setLineDash([7 * scale, 4 * scale]);
        context.beginPath();
        context.moveTo(0, height / 2);
        context.lineTo(width, height / 2);
        context.stroke();
    };

    const swatch = (canvas, key) => {
        const scale = Math.min(window.devicePixelRatio || 1, 2);
        const size = Math.round(PERIOD * scale);
        const [width, height] = [Math.round(44 * scale), Math.round(26 * scale)];
        Object.assign(canvas, { width, height });
        const context = canvas.getContext("2d");
        if (key === "edge") {
            drawEdge(context, width, height, scale);
            return;
        }
        const image = context.createImageData(width, height);
        const out = new Uint32Array(image.data.buffer);
        const [tile] = tilesOf([key], size, scale);
        for (let y = 0, at = 0; y < height; y++) {
            for (let x = 0; x < width; x++, at++) out[at] = tile[(y % size) * size + (x % size)];
        }
        context.putImageData(image, 0, 0);
    };

    // A Leaflet layer: a canvas as large as the map and a margin, drawn again when the map rests.
    const ReachLayer = L.Layer.extend({
        options: { margin: 0.2 },

        onAdd(map) {
            this._canvas = L.DomUtil.create("canvas", "reach-canvas leaflet-zoom-animated");
            this._canvas.setAttribute("aria-hidden", "true");
            this.getPane().appendChild(this._canvas);
            this.draw();
            return map;
        },

        onRemove() {
            this._canvas.remove();
        },

        getEvents() {
            return { moveend: this.draw, resize: this.draw, zoomanim: this._follow };
        },

        show(verdicts, isChange) {
            this._verdicts = verdicts;
            this._keys = isChange ? CHANGE_KEYS : KEYS;
            this.draw();
        },

        // Colours and hatching come from the page; call this when its theme has changed.
        repaint() {
            this._tiles = null;
            this.draw();
        },

        draw() {
            if (!this._map || !this._canvas) return;
            const map = this._map;
            const size = map.getSize();
            const pad = size.multiplyBy(this.options.margin).round();
            const scale = Math.min(window.devicePixelRatio || 1, 2);
            const corner = map.containerPointToLayerPoint([-pad.x, -pad.y]);
            const [width, height] = [size.x + 2 * pad.x, size.y + 2 * pad.y];
            Object.assign(this._canvas, { width: Math.round(width * scale), height: Math.round(height * scale) });
            this._canvas.style.width = `${width}px`;
            this._canvas.style.height = `${height}px`;
            L.DomUtil.setPosition(this._canvas, corner);
            this._northWest = map.layerPointToLatLng(corner);
            if (this._verdicts && width && height) this._colour(corner, scale);
        },

        _follow(event) {
            const zoomed = this._map.getZoomScale(event.zoom);
            const offset = this._map._latLngToNewLayerPoint(this._northWest, event.zoom, event.center);
            L.DomUtil.setTransform(this._canvas, offset, zoomed);
        },

        _colour(corner, scale) {
            const { width, height } = this._canvas;
            const context = this._canvas.getContext("2d");
            const image = context.createImageData(width, height);
            const out = new Uint32Array(image.data.buffer);
            const period = Math.round(PERIOD * scale);
            if (!this._tiles || this._tiles.period !== period || this._tiles.keys !== this._keys) {
                this._tiles = { period, keys: this._keys, all: tilesOf(this._keys, period, scale) };
            }
            const tiles = this._tiles.all;
            const { lattice, classes } = this._verdicts;
            // Hatching holds on to the ground when the map is moved.
            const origin = this._map.getPixelOrigin().add(corner).multiplyBy(scale).round();
            const shiftX = ((origin.x % period) + period) % period;
            const shiftY = ((origin.y % period) + period) % period;
            const { rowAt, columnAt } = this._places(corner, scale, width, height);
            for (let y = 0, at = 0; y < height; y++) {
                const row = rowAt[y];
                if (row < 0) {
                    at += width;
                    continue;
                }
                const start = row * lattice.columns;
                const line = ((y + shiftY) % period) * period;
                for (let x = 0; x < width; x++, at++) {
                    if (columnAt[x] < 0) continue;
                    const tile = tiles[classes[start + columnAt[x]]];
                    if (tile) out[at] = tile[line + ((x + shiftX) % period)];
                }
            }
            context.putImageData(image, 0, 0);
        },

        // The map's projection is linear in latitude and longitude, so rows and columns can be told once for all pixels.
        _places(corner, scale, width, height) {
            const { lattice } = this._verdicts;
            const at = (x, y) => this._map.layerPointToLatLng(corner.add([x, y]));
            const [first, last] = [at(0, 0), at(width / scale, height / scale)];
            const rowAt = new Int32Array(height);
            const columnAt = new Int32Array(width);
            for (let y = 0; y < height; y++) {
                const latitude = first.lat + ((last.lat - first.lat) * (y + 0.5)) / height;
                const row = Math.round((lattice.north - latitude) / lattice.latitudeStep);
                rowAt[y] = row >= 0 && row < lattice.rows ? row : -1;
            }
            for (let x = 0; x < width; x++) {
                const longitude = first.lng + ((last.lng - first.lng) * (x + 0.5)) / width;
                const column = Math.round((longitude - lattice.west) / lattice.longitudeStep);
                columnAt[x] = column >= 0 && column < lattice.columns ? column : -1;
            }
            return { rowAt, columnAt };
        },
    });

    Object.assign(window.clubMap, { ReachLayer, swatch });
}
