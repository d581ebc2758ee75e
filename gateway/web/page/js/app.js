// The page: three places, one shown at a time, chosen by the address's hash.
import { readClip } from "./files.js";
import { ComparePlace } from "./compare.js";
import { ServiceError } from "./courtkin.js";
import { at } from "./kit.js";
import { PracticePlace } from "./practice.js";
import { Session } from "./session.js";
import { TryPlace } from "./try.js";
const session = new Session();
new TryPlace(session);
const compare = new ComparePlace(session), practice = new PracticePlace(session);
const places = ["try", "compare", "practice"];
function show(name, move) {
    for (const p of places) {
        at("place-" + p).hidden = p !== name;
        const link = document.querySelector(`nav a[href="#${p}"]`);
        if (p === name)
            link?.setAttribute("aria-current", "page");
        else
            link?.removeAttribute("aria-current");
    }
    document.title = `Courtkin: ${name}`;
    if (move) {
        at("h-" + name).focus();
        scrollTo(0, 0);
    }
    if (name === "compare")
        compare.shown();
    if (name === "practice")
        void practice.shown();
}
function here() {
    const name = location.hash.slice(1);
    return places.includes(name) ? name : "try";
}
addEventListener("hashchange", () => show(here(), true));
show(here(), false);
// The whole made practice at once, for those who do not want to watch it.
for (const b of document.querySelectorAll(".take-made"))
    b.addEventListener("click", () => void takeMade(b));
async function takeMade(button) {
    const buttons = document.querySelectorAll(".take-made");
    const status = button.parentElement?.querySelector(".take-status");
    buttons.forEach((b) => { b.disabled = true; });
    if (status)
        status.textContent = "Analysing the made practice …";
    try {
        const clip = readClip(await (await fetch("demo/practice.json")).text());
        session.player = clip.setup.player;
        const result = await session.service.analyze({ setup: { ...clip.setup, withTrace: true }, frames: clip.frames });
        session.add(...result.swings);
        if (status)
            status.textContent = "";
        if (here() === "compare")
            compare.shown();
    }
    catch (e) {
        if (status)
            status.textContent = `It could not be analysed: ${e instanceof ServiceError ? e.message : String(e)}`;
    }
    finally {
        buttons.forEach((b) => { b.disabled = false; });
    }
}
// A service that asks for a key gets the one entered here.
at("key-form").addEventListener("submit", (e) => {
    e.preventDefault();
    session.key = at("key").value.trim();
    at("key-said").textContent = session.key ? "In use until this tab is closed." : "No key in use.";
    void session.titles.load(session.service);
});
void session.titles.load(session.service);
// Once loaded, the page needs no network but the service.
if ("serviceWorker" in navigator && isSecureContext) {
    navigator.serviceWorker.register("sw.js").then(() => navigator.serviceWorker.ready).then(() => { document.documentElement.dataset.offline = "ready"; })
        .catch(() => { });
}
function network() { at("offline").hidden = navigator.onLine; }
addEventListener("online", network);
addEventListener("offline", network);
network();
