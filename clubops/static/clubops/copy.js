// The copy button beside an address. Without this file the address is a field to select and copy by hand.
"use strict";

for (const button of document.querySelectorAll("[data-copy]:not([data-ready])")) {
    const field = document.getElementById(button.dataset.copy);
    const said = document.getElementById(button.dataset.said);
    button.dataset.ready = "yes"; // the file may be asked for twice on a page
    button.hidden = false;
    field.addEventListener("focus", () => field.select());
    button.addEventListener("click", async () => {
        try {
            await navigator.clipboard.writeText(field.value);
            said.textContent = "Copied.";
        } catch {
            field.select(); // no clipboard over plain http
            said.textContent = "Selected: press Ctrl+C, or hold and choose Copy.";
        }
    });
}
