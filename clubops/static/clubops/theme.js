// Paints the remembered theme before the page is drawn, and turns the switch. Loaded without defer on purpose:
// later, the page would flash in the wrong colours. The key is the one the office pages use, so both agree.
"use strict";
{
    const MODES = ["auto", "light", "dark"];
    const root = document.documentElement;

    const remembered = () => {
        try {
            const mode = localStorage.getItem("theme");
            return MODES.includes(mode) ? mode : "auto";
        } catch {
            return "auto"; // storage is refused in some private windows
        }
    };

    const paint = (mode) => {
        root.dataset.theme = mode;
        for (const button of document.querySelectorAll("[data-theme-switch]")) {
            button.querySelector("span").textContent = `Light: ${{ auto: "as the device", light: "day", dark: "night" }[mode]}`;
        }
    };

    paint(remembered());

    document.addEventListener("DOMContentLoaded", () => {
        for (const button of document.querySelectorAll("[data-theme-switch]")) {
            button.hidden = false;
            button.addEventListener("click", () => {
                const next = MODES[(MODES.indexOf(root.dataset.theme) + 1) % MODES.length];
                try {
                    localStorage.setItem("theme", next);
                } catch {
                    // it still holds for this page
                }
                paint(next);
            });
        }
        paint(remembered());
    });
}
