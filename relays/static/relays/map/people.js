// Who lives there follows the radio that is chosen. The server counts; its answer takes the place of the last.
"use strict";
{
    const box = document.getElementById("people-box");
    let asking = new AbortController();

    const follow = async (radio) => {
        asking.abort();
        asking = new AbortController();
        // The people table holds for radios as they come; a station of one's own is not counted.
        if (!box?.querySelector("table") || radio.startsWith("station-")) return;
        box.setAttribute("aria-busy", "true");
        try {
            const answer = await fetch(`?${new URLSearchParams({ radio })}`, { signal: asking.signal });
            const page = new DOMParser().parseFromString(await answer.text(), "text/html");
            const counted = page.getElementById("people-box");
            if (answer.ok && counted) box.replaceChildren(...counted.childNodes);
        } catch {
            // What stands there names its radio and stays right.
        }
        box.removeAttribute("aria-busy");
    };

    document.getElementById("id_radio").addEventListener("change", (event) => follow(event.target.value));
}
