// Opens the log page without a connection: the page as it was last, with its scripts and styles. What is in the log
// comes from the page's own store and from the site; this keeps only the paper.
"use strict";

const KEPT = "club-log-page";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("message", (event) => {
    event.waitUntil(caches.open(KEPT).then((cache) => Promise.all(event.data.keep.map((address) => keep(cache, address)))));
});

async function keep(cache, address) {
    const response = await fetch(address, { redirect: "manual" });
    if (response.ok) await cache.put(address, response);
}

self.addEventListener("fetch", (event) => {
    const address = new URL(event.request.url);
    const isPage = event.request.mode === "navigate" && address.href === self.registration.scope;
    const isPart = address.origin === location.origin && address.pathname.includes("/static/");
    if (event.request.method === "GET" && (isPage || isPart)) event.respondWith(freshElseKept(event.request, isPage));
});

async function freshElseKept(request, isPage) {
    const cache = await caches.open(KEPT);
    try {
        const response = await fetch(request);
        // A page that leads to the login is an answer, but not one to keep.
        if (response.ok && response.type === "basic" && !response.redirected) await cache.put(isPage ? new URL(request.url).pathname : request, response.clone());
        return response;
    } catch (problem) {
        const kept = await cache.match(isPage ? new URL(request.url).pathname : request);
        if (kept) return kept;
        throw problem;
    }
}
