// The ground: a projection that shows it as it is, its shading, where it ends, the locator grid and the relays.
"use strict";
{
    // Degrees of latitude and longitude as they are, longitude shortened by the cosine of the map's middle: a raster in
    // degrees needs no bending, and shapes are right around the club.
    const projectionAt = (latitude) => {
        const shorten = Math.cos((latitude * Math.PI) / 180);
        return L.extend({}, L.CRS.Earth, {
            code: "club",
            wrapLng: undefined,
            projection: {
                project: (place) => new L.Point(place.lng * shorten, place.lat),
                unproject: (point) => new L.LatLng(point.y, point.x / shorten),
                bounds: L.bounds([-180, -90], [180, 90]),
            },
            transformation: new L.Transformation(1 / 360, 0.5, -1 / 360, 0.5),
        });
    };

    // Maidenhead locator of a place, as clubops/members/locators.py has it; characters: 4 or 6.
    const locatorOf = (latitude, longitude, characters) => {
        const letter = (index, first) => String.fromCharCode(first.charCodeAt(0) + index);
        const east = (longitude + 180) / 20;
        const north = (latitude + 90) / 10;
        const field = letter(Math.floor(east), "A") + letter(Math.floor(north), "A");
        const square = `${Math.floor((east % 1) * 10)}${Math.floor((north % 1) * 10)}`;
        if (characters === 4) return field + square;
        return field + square + letter(Math.floor((((east % 1) * 10) % 1) * 24), "a") + letter(Math.floor((((north % 1) * 10) % 1) * 24), "a");
    };

    const GRIDS = [
        { characters: 6, width: 5 / 60, height: 2.5 / 60 },
        { characters: 4, width: 2, height: 1 },
    ];
    const LEAST_CELL_PX = 64;

    const LocatorGrid = L.LayerGroup.extend({
        onAdd(map) {
            L.LayerGroup.prototype.onAdd.call(this, map);
            this.draw();
        },

        getEvents() {
            return { moveend: this.draw };
        },

        draw() {
            const map = this._map;
            this.clearLayers();
            const bounds = map.getBounds();
            const perDegree = map.getSize().x / (bounds.getEast() - bounds.getWest());
            const grid = GRIDS.find((each) => each.width * perDegree >= LEAST_CELL_PX);
            if (!grid) return;
            const first = (value, step) => Math.floor(value / step + 1e-9);
            const [west, east] = [first(bounds.getWest(), grid.width), first(bounds.getEast(), grid.width)];
            const [south, north] = [first(bounds.getSouth(), grid.height), first(bounds.getNorth(), grid.height)];
            const line = (places) => this.addLayer(L.polyline(places, { className: "grid-line", interactive: false, weight: 1 }));
            for (let x = west; x <= east + 1; x++) line([[south * grid.height, x * grid.width], [(north + 1) * grid.height, x * grid.width]]);
            for (let y = south; y <= north + 1; y++) line([[y * grid.height, west * grid.width], [y * grid.height, (east + 1) * grid.width]]);
            for (let x = west; x <= east; x++) {
                for (let y = south; y <= north; y++) this._name(grid, x, y);
            }
        },

        _name(grid, x, y) {
            const name = locatorOf((y + 0.5) * grid.height, (x + 0.5) * grid.width, grid.characters);
            const icon = L.divIcon({ className: "grid-name", html: name, iconSize: [60, 16], iconAnchor: [-4, -2] });
            this.addLayer(L.marker([(y + 1) * grid.height, x * grid.width], { icon, interactive: false, keyboard: false }));
        },
    });

    const MAST =
        '<svg viewBox="0 0 24 28" aria-hidden="true" focusable="false"><path class="mast-back" d="M12 3v22M7 25h10M12 9l-4 16M12 9l4 16"/>' +
        '<path d="M12 3v22M7 25h10M12 9l-4 16M12 9l4 16M9.6 18h4.8"/><circle cx="12" cy="5" r="2.5"/>' +
        '<path d="M7.2 1.5a5 5 0 0 0 0 7M16.8 1.5a5 5 0 0 1 0 7"/></svg>';

    const escaped = (text) => {
        const holder = document.createElement("span");
        holder.textContent = text;
        return holder.innerHTML;
    };

    const relayMarker = (relay, chosen) => {
        const icon = L.divIcon({
            className: `relay-mark${relay.on_the_air ? "" : " relay-off"}`,
            html: `${MAST}<span>${escaped(relay.name)}</span>`,
            iconSize: [24, 28],
            iconAnchor: [12, 25],
        });
        const marker = L.marker([relay.latitude, relay.longitude], { icon, title: `Show ${relay.name}`, riseOnHover: true });
        return marker.on("click", () => chosen(relay.slug)).on("keypress", (event) => event.originalEvent.key === "Enter" && chosen(relay.slug));
    };

    // Names hang to the right of their masts, but not out of the map.
    const turnNames = (map, marks) => {
        for (const mark of marks) {
            const element = mark.getElement();
            if (!element) continue; // the map has no view yet
            const room = map.getSize().x - map.latLngToContainerPoint(mark.getLatLng()).x;
            element.classList.toggle("to-the-left", room < element.querySelector("span").offsetWidth + 34);
        }
    };

    const drawGround = (map, relief) => {
        if (!relief) return;
        L.imageOverlay(relief.url, relief.bounds, { className: "relief", alt: "" }).addTo(map);
        L.rectangle(relief.bounds, { className: "ground-edge", fill: false, interactive: false }).addTo(map);
    };

    Object.assign(window.clubMap, { projectionAt, locatorOf, LocatorGrid, relayMarker, turnNames, drawGround });
}
