// Making elements without markup in strings: what somebody typed is always text.

export function make(name, attributes = {}, ...children) {
    const element = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) {
        if (value === false || value === null || value === undefined) continue;
        if (key === "onclick") element.addEventListener("click", value);
        else element.setAttribute(key, value === true ? "" : value);
    }
    element.append(...children.filter((child) => child !== "" && child !== null && child !== undefined && child !== false));
    return element;
}

export const byId = (id) => document.getElementById(id);

export function times(zone) {
    const format = (timeZone) => new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone });
    const [local, utc] = [format(zone), format("UTC")];
    return { local: (at) => local.format(new Date(at)), utc: (at) => utc.format(new Date(at)) };
}
