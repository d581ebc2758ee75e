"use strict";
// The gateway writes the build's fingerprint and the list of files in here.
const fingerprint = "__FINGERPRINT__";
const files = JSON.parse('__FILES__');
const addOnCache = "courtkin-addon"; // large and unchanging: kept on first use, not on the first visit
addEventListener("install", (e) => {
    e.waitUntil(caches.open(fingerprint).then((c) => c.addAll(files).then(() => c.add("openapi.json").catch(() => undefined))).then(() => globalThis.skipWaiting()));
});
addEventListener("activate", (e) => {
    e.waitUntil(caches.keys().then((names) => Promise.all(names.filter((n) => n !== fingerprint && n !== addOnCache).map((n) => caches.delete(n))))
        .then(() => globalThis.clients.claim()));
});
addEventListener("fetch", (event) => {
    const e = event, url = new URL(e.request.url);
    if (e.request.method !== "GET" || url.origin !== location.origin || url.pathname.includes("/v1/"))
        return;
    e.respondWith(url.pathname.includes("/addon/") ? kept(e.request, addOnCache) : page(e.request));
});
/** page answers from this build's files, else from the network. */
async function page(request) {
    const cache = await caches.open(fingerprint);
    const named = (url) => cache.match(url, { ignoreSearch: true, ignoreVary: true });
    return (await named(request)) ?? (await named(request.url.replace(/[?#].*$/, "") + ".html")) ?? fetch(request);
}
/** kept answers from a cache and fills it. */
async function kept(request, name) {
    const cache = await caches.open(name), found = await cache.match(request, { ignoreVary: true });
    if (found)
        return found;
    const answer = await fetch(request);
    if (answer.ok)
        await cache.put(request, answer.clone());
    return answer;
}
