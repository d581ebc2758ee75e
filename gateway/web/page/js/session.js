// What the three places share: the service, the titles, and the balls of this
// visit. Balls live in memory alone and are gone when the page is closed.
import { Service } from "./courtkin.js";
import { Titles } from "./kit.js";
export class Session {
    service = new Service(location.origin, { token: () => this.key });
    titles = new Titles();
    balls = [];
    player;
    listeners = [];
    /** The key that this visit uses; kept until the tab is closed. */
    get key() { return sessionStorage.getItem("courtkin.key") ?? undefined; }
    set key(k) {
        if (k)
            sessionStorage.setItem("courtkin.key", k);
        else
            sessionStorage.removeItem("courtkin.key");
    }
    /** onchange calls f whenever balls come or go. */
    onchange(f) { this.listeners.push(f); }
    /** add takes swings, each once. */
    add(...swings) {
        for (const s of swings)
            if (!this.balls.some((b) => b.id === s.id))
                this.balls.push(s);
        this.changed();
    }
    clear() {
        this.balls.length = 0;
        this.changed();
    }
    byId(id) { return this.balls.find((b) => b.id === id); }
    /** ballNumber counts from 1. */
    ballNumber(swing) { return this.balls.indexOf(swing) + 1; }
    changed() { for (const f of this.listeners)
        f(); }
}
