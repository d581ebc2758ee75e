// What the three places share: the service, the titles, and the balls of this
// visit. Balls live in memory alone and are gone when the page is closed.
import { Service, type Player, type Swing } from "./courtkin.js";
import { Titles } from "./kit.js";

export class Session {
  readonly service = new Service(location.origin, { token: () => this.key });
  readonly titles = new Titles();
  readonly balls: Swing[] = [];
  player: Player | undefined;
  private readonly listeners: (() => void)[] = [];

  /** The key that this visit uses; kept until the tab is closed. */
  get key(): string | undefined { return sessionStorage.getItem("courtkin.key") ?? undefined; }
  set key(k: string | undefined) {
    if (k) sessionStorage.setItem("courtkin.key", k);
    else sessionStorage.removeItem("courtkin.key");
  }

  /** onchange calls f whenever balls come or go. */
  onchange(f: () => void): void { this.listeners.push(f); }

  /** add takes swings, each once. */
  add(...swings: Swing[]): void {
    for (const s of swings) if (!this.balls.some((b) => b.id === s.id)) this.balls.push(s);
    this.changed();
  }

  clear(): void {
    this.balls.length = 0;
    this.changed();
  }

  byId(id: string): Swing | undefined { return this.balls.find((b) => b.id === id); }

  /** ballNumber counts from 1. */
  ballNumber(swing: Swing): number { return this.balls.indexOf(swing) + 1; }

  private changed(): void { for (const f of this.listeners) f(); }
}
