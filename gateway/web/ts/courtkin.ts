// Client of Courtkin's contract, for browsers and for any runtime with fetch
// and WebSocket. No dependencies.
//
//   const service = new Service("https://court.example");
//   const { swings } = await service.analyze({ setup, frames });
//
//   const live = new LivePractice({ url: service.liveURL(), setup, on: { swing: s => … } });
//   live.push(frame); … await live.finish();
//
// A live practice outlives its connections: frames that the service may still
// need are kept, and sent again over a new connection, to any replica. No
// swing is lost or told twice.

// ------------------------------------------------------------ the messages --
// As the protobuf JSON mapping writes them. A 64-bit integer arrives as text,
// a float that is not a number as "NaN": read both with `number`.

export type Num = number | string;

export interface Frame {
  index: number;
  timeUs: Num;
  camera?: number;
  image?: Num[];
  world?: Num[];
  racketImage?: Num[];
  racketWorld?: Num[];
  ballImage?: Num[];
  ballWorld?: Num[];
}

export interface Player { dominantHand?: string; statureM?: number; level?: string; junior?: boolean }
export interface Camera {
  widthPx?: number; heightPx?: number; focalPx?: number; captureRateHz?: number;
  slowMotionFactor?: number; viewpoint?: string; courtMarks?: { mark: string; xPx: number; yPx: number }[];
}
export interface Setup {
  layout?: string; pointNames?: string[]; worldAxes?: string; player?: Player; racket?: { lengthM?: number };
  cameras?: Camera[]; expectedStroke?: string; locale?: string; withTrace?: boolean;
}
export interface Clip { setup: Setup; frames: Frame[] }

export interface SwingEvent { kind: string; timeUs: Num; sdUs: Num; certainty: string }
export interface Phase { kind: string; startUs: Num; endUs: Num }
export interface Measure {
  name: string; value?: number; sd?: number; low?: number; high?: number; unit: string; grade: string; reason: string;
}
export interface Cue {
  name: string; kind: string; text: string; drill: string; priority: number; confidence: number; evidence: string[];
}
export interface Warning { code: string; text: string }
export interface Series { name: string; unit: string; values: Num[]; sds: Num[] }
export interface Trace { times: Num[]; series: Series[] }
export interface Capture {
  viewpoint: string; frameRateHz: number; slowMotionFactor: number; slowMotionSd: number; method: string; scaleSd: number;
}
export interface Swing {
  id: string; stroke: string; strokeConfidence: number; dominantHand: string;
  events: SwingEvent[]; phases: Phase[]; measures: Measure[]; cues: Cue[]; warnings: Warning[];
  trace?: Trace; firstFrame: number; lastFrame: number; capture?: Capture;
}
export interface Reading {
  timeUs: Num; phase: string; racketSpeedMps?: number; shoulderTurnDeg?: number; lagDeg?: number; grade: string;
}
export interface ClipResult { swings: Swing[]; warnings: Warning[] }
export interface Difference {
  measure: string; phase: string; reference?: number; candidate?: number; difference?: number; sd?: number;
  unit: string; verdict: string; weight: number; reason: string; text: string;
}
export interface CurveDifference {
  series: string; rms: number; largest: number; largestAtS: Num; unit: string; verdict: string;
}
export interface Comparison {
  differences: Difference[]; warnings: Warning[]; alignment: { referenceS: Num; candidateS: Num }[];
  curves: CurveDifference[]; summary: string;
}
export interface PracticeFigure {
  stroke: string; measure: string; unit: string; count: number; median: number; spread: number;
  trendPerSwing: number; trendP: number; smallestRealChange: number; changeFromBaseline?: number; changeVerdict: string;
}
export interface Summary {
  figures: PracticeFigure[]; typicalSwingId: string; bestSwingId: string; focus?: Cue; cautions: Cue[];
  counts: { stroke: string; count: number }[]; summary: string;
}
export interface SetupCheck {
  expected: Measure[]; capture?: Capture; advice: Cue[];
  poses: { camera: number; positionM: number[]; rotation: number[]; focalPx: number; reprojectionRmsPx: number }[];
}
export interface Definition { name: string; title: string; definition: string; unit: string; strokes: string[]; source: string }
export interface Catalog { measures: Definition[]; events: { kind: string; title: string; definition: string }[]; cues: Cue[] }

/** number reads a number of the JSON mapping; what is missing or no number is NaN. */
export function number(v: Num | undefined | null): number {
  return v === undefined || v === null || v === "" ? NaN : Number(v);
}

// ------------------------------------------------------------- single calls --

/** ServiceError is google.rpc.Status: code is gRPC's number, 14 also when nothing answered. */
export class ServiceError extends Error {
  constructor(readonly code: number, message: string, readonly details: unknown[] = []) {
    super(message);
    this.name = "ServiceError";
  }
}

/** Token is an API key or token, or what tells the present one. */
export type Token = string | (() => string | undefined);

function present(token: Token | undefined): string | undefined { return typeof token === "function" ? token() : token; }

export interface ServiceOptions {
  /** Sent as Authorization: Bearer …; none by default. */
  token?: Token;
  fetch?: typeof fetch;
}

/** Service makes the single calls. */
export class Service {
  private readonly base: string;
  constructor(base: string, private readonly options: ServiceOptions = {}) {
    this.base = base.replace(/\/+$/, "");
  }

  analyze(clip: Clip, signal?: AbortSignal): Promise<ClipResult> { return this.call("/v1/clips:analyze", clip, signal); }
  compare(reference: Swing, candidate: Swing, signal?: AbortSignal): Promise<Comparison> {
    return this.call("/v1/swings:compare", { reference, candidate }, signal);
  }
  summarize(swings: Swing[], player?: Player, baseline?: PracticeFigure[]): Promise<Summary> {
    return this.call("/v1/practices:summarize", { swings, player, baseline });
  }
  adviseFeed(request: object): Promise<Record<string, unknown>> { return this.call("/v1/feeds:advise", request); }
  checkSetup(setup: Setup, frames: Frame[]): Promise<SetupCheck> { return this.call("/v1/setups:check", { setup, frames }); }
  catalog(locale = "en"): Promise<Catalog> { return this.call(`/v1/catalog?locale=${encodeURIComponent(locale)}`); }

  /** liveURL is where a LivePractice connects to. */
  liveURL(): string { return this.base.replace(/^http/, "ws") + "/v1/practices/live"; }

  private async call<T>(path: string, body?: object, signal?: AbortSignal): Promise<T> {
    const headers: Record<string, string> = {};
    if (body) headers["Content-Type"] = "application/json";
    const token = present(this.options.token);
    if (token) headers["Authorization"] = `Bearer ${token}`;
    const send = this.options.fetch ?? fetch;
    let answer: Response;
    try {
      answer = await send(this.base + path, { method: body ? "POST" : "GET", headers, body: body && JSON.stringify(body), signal });
    } catch (cause) {
      if (signal?.aborted) throw cause;
      throw new ServiceError(14, "the service cannot be reached");
    }
    const text = await answer.text();
    if (answer.ok) return JSON.parse(text) as T;
    throw readError(text, answer.status);
  }
}

function readError(text: string, status: number): ServiceError {
  try {
    const said = JSON.parse(text) as { code?: number; message?: string; details?: unknown[] };
    return new ServiceError(said.code ?? 2, said.message ?? `status ${status}`, said.details);
  } catch {
    return new ServiceError(status >= 502 ? 14 : 2, `status ${status}`);
  }
}

// ------------------------------------------------------------ live practice --

/** Socket is what a LivePractice needs of a WebSocket. */
export interface Socket {
  send(text: string): void;
  close(code?: number, reason?: string): void;
  onopen: ((e: never) => void) | null;
  onmessage: ((e: { data: unknown }) => void) | null;
  onclose: ((e: { code: number; reason: string }) => void) | null;
  onerror: ((e: never) => void) | null;
}

export type LiveState = "connecting" | "open" | "waiting" | "finished" | "failed";

export interface LiveHandlers {
  opened(serverVersion: string): void;
  event(e: SwingEvent): void;
  reading(r: Reading): void;
  swing(s: Swing): void;
  warning(w: Warning): void;
  /** Where the connection stands; `why` tells what broke it. */
  state(s: LiveState, why: string): void;
}

export interface LiveOptions {
  url: string;
  setup: Setup;
  on: Partial<LiveHandlers>;
  practiceId?: string;
  /** Cue names already given and swings already played before this practice object. */
  recentCues?: string[];
  swingsSoFar?: number;
  /** Frames a message; 6 at 60 frames a second is a message each 0.1 s. */
  batch?: number;
  /** Most frames sent and not yet acknowledged, for each camera. */
  window?: number;
  /** Most frames kept for sending again; older ones are given up. */
  keep?: number;
  /** Milliseconds before the first new attempt; doubles up to 8 s. */
  retryMs?: number;
  /** Attempts in a row without an answer before the practice fails. */
  tries?: number;
  /** Milliseconds without a word while frames wait for their Ack before the connection counts as dead. */
  silenceMs?: number;
  /** Browsers cannot set headers on a WebSocket: it goes as a subprotocol. */
  token?: Token;
  connect?: (url: string, protocols: string[]) => Socket;
}

/** Acknowledgement of frames. */
interface Acknowledgement { camera: number; received: number; keepFrom: number; clock?: unknown }

// For how long the service goes by a feed notice, with some to spare.
const noticeLastsUs = 4_000_000;

const textProtocol = "courtkin.v1.json";
const tokenProtocol = "courtkin.v1.bearer.";

// Close codes: 4000 + gRPC's code. These say that a new connection may help:
// exhausted, aborted, internal, unavailable, data loss.
const passing = new Set([4008, 4010, 4013, 4014, 4015]);
// Of RFC 6455: normal (without our finish), going away, no code, cut off, server error, restart, try later.
const broken = new Set([1000, 1001, 1005, 1006, 1011, 1012, 1013, 1014]);

/** LivePractice streams frames and tells findings, over as many connections as it takes. */
export class LivePractice {
  private readonly o: Required<Omit<LiveOptions, "token" | "practiceId">> & LiveOptions;

  // Of the practice.
  private kept: Frame[] = [];            // sent but perhaps needed again, then not yet sent
  private next = 0;                      // kept[next] is the first not yet sent on this connection
  private readonly seen = new Set<string>(); // ids of swings told
  private readonly cues: string[];
  private swings: number;
  private horizonUs = -Infinity;         // the latest event or reading told
  private muteUntilUs = -Infinity;       // after a resume: what was told before
  private notices: number[] = [];        // feeds that may still count
  private clock?: unknown;               // how the clip's clock was settled, for the next connection
  private ended?: { resolve(): void; reject(e: Error): void };
  private over = false;

  // Of this connection.
  private socket?: Socket;
  private isOpen = false;
  private finishSent = false;
  private sent = new Map<number, number>();     // frames sent, by camera
  private received = new Map<number, number>(); // frames acknowledged, by camera
  private failures = 0;
  private flushTimer?: ReturnType<typeof setTimeout>;
  private retryTimer?: ReturnType<typeof setTimeout>;
  private silence?: ReturnType<typeof setTimeout>;

  constructor(options: LiveOptions) {
    this.o = {
      batch: 6, window: 240, keep: 7200, retryMs: 250, tries: 12, silenceMs: 10_000, recentCues: [], swingsSoFar: 0,
      connect: (url, protocols) => new WebSocket(url, protocols) as unknown as Socket,
      ...options,
    };
    this.cues = [...this.o.recentCues];
    this.swings = this.o.swingsSoFar;
    this.connect();
  }

  /** kept frames, for display. */
  get waiting(): number { return this.kept.length - this.next; }

  /** push hands a frame over; it is sent with a few others. */
  push(frame: Frame): void {
    if (this.over || this.ended) return;
    this.kept.push(frame);
    if (this.kept.length > this.o.keep) this.giveUpOldest();
    if (this.waiting >= this.o.batch) this.pump();
    else this.flushTimer ??= setTimeout(() => this.pump(), 60);
  }

  /** fed tells that a ball machine has just fed; the next connection hears of it while it counts. */
  fed(timeUs: number): void {
    this.notices = this.notices.filter((t) => t > timeUs - noticeLastsUs).concat(timeUs);
    this.say({ feed: { timeUs } });
  }

  /** finish ends the practice honestly and resolves when all findings are in. */
  finish(): Promise<void> {
    if (this.over) return Promise.resolve();
    return new Promise((resolve, reject) => {
      this.ended = { resolve, reject };
      this.pump();
    });
  }

  /** abandon ends the practice at once; what is not settled is lost. */
  abandon(): void { this.end("finished", "abandoned"); }

  private connect(): void {
    this.o.on.state?.("connecting", "");
    const protocols = [textProtocol];
    const token = present(this.o.token);
    if (token) protocols.push(tokenProtocol + token);
    const socket = this.o.connect(this.o.url, protocols);
    this.socket = socket;
    socket.onopen = () => { if (socket === this.socket) this.begin(); };
    socket.onmessage = (e) => { if (socket === this.socket) this.take(String(e.data)); };
    socket.onclose = (e) => { if (socket === this.socket) this.closed(e.code, e.reason); };
    socket.onerror = () => {}; // onclose follows and says more
  }

  /** begin opens a stream and sends everything kept, from its start. */
  private begin(): void {
    this.isOpen = true;
    this.finishSent = false;
    this.next = 0;
    this.sent.clear();
    this.received.clear();
    this.muteUntilUs = this.horizonUs;
    this.say({ open: {
      setup: this.o.setup, practiceId: this.o.practiceId ?? "",
      recentCues: this.cues.slice(-32), swingsSoFar: this.swings,
      ...(this.clock ? { clock: this.clock } : {}),
    } });
    for (const timeUs of this.notices) this.say({ feed: { timeUs } });
    this.pump();
  }

  /** pump sends what may be sent now. */
  private pump(): void {
    clearTimeout(this.flushTimer);
    this.flushTimer = undefined;
    if (!this.isOpen || this.over) return;
    for (;;) {
      const frames = this.batch();
      if (frames.length === 0) break;
      this.say({ frames: { frames } });
    }
    if (this.ended && this.waiting === 0 && !this.finishSent) {
      this.finishSent = true;
      this.say({ finish: { frames: this.counts() } });
    }
    this.watchSilence();
  }

  /** batch takes the next frames that the window lets through. */
  private batch(): Frame[] {
    const frames: Frame[] = [];
    while (frames.length < this.o.batch && this.next < this.kept.length) {
      const frame = this.kept[this.next]!, camera = frame.camera ?? 0;
      const sent = this.sent.get(camera) ?? 0;
      if (sent - (this.received.get(camera) ?? 0) >= this.o.window) break;
      this.sent.set(camera, sent + 1);
      this.next++;
      frames.push(frame);
    }
    return frames;
  }

  private counts(): number[] {
    const cameras = Math.max(0, ...this.sent.keys()) + 1;
    return Array.from({ length: cameras }, (_, i) => this.sent.get(i) ?? 0);
  }

  private say(message: object): void {
    if (this.isOpen) this.socket?.send(JSON.stringify(message));
  }

  private take(text: string): void {
    this.failures = 0;
    const m = JSON.parse(text) as {
      opened?: { serverVersion: string }; event?: SwingEvent; reading?: Reading; swing?: Swing; warning?: Warning;
      ack?: Acknowledgement;
    };
    const on = this.o.on;
    if (m.ack) this.acknowledged(m.ack);
    else if (m.opened) { on.state?.("open", ""); on.opened?.(m.opened.serverVersion); }
    else if (m.swing) this.tellOnce(m.swing);
    else if (m.event && this.fresh(m.event.timeUs)) on.event?.(m.event);
    else if (m.reading && this.fresh(m.reading.timeUs)) on.reading?.(m.reading);
    else if (m.warning) on.warning?.(m.warning);
    this.watchSilence();
  }

  /** fresh says whether an instant was not yet told about before a resume. */
  private fresh(timeUs: Num): boolean {
    const t = number(timeUs);
    if (t <= this.muteUntilUs) return false;
    this.horizonUs = Math.max(this.horizonUs, t);
    return true;
  }

  private tellOnce(swing: Swing): void {
    if (this.seen.has(swing.id)) return;
    this.seen.add(swing.id);
    this.swings++;
    if (swing.cues[0]) this.cues.push(swing.cues[0].name);
    this.o.on.swing?.(swing);
  }

  /** acknowledged drops frames that are done with and sends further ones. */
  private acknowledged(ack: Acknowledgement): void {
    this.clock = ack.clock;
    this.received.set(ack.camera, ack.received);
    const sent = this.kept.slice(0, this.next).filter((f) => (f.camera ?? 0) !== ack.camera || f.index >= ack.keepFrom);
    this.kept = sent.concat(this.kept.slice(this.next));
    this.next = sent.length;
    if (this.waiting >= this.o.batch || this.ended) this.pump();
  }

  private giveUpOldest(): void {
    const lost = this.kept.length - this.o.keep;
    this.kept.splice(0, lost);
    this.next = Math.max(0, this.next - lost);
  }

  /** watchSilence counts a connection as dead that owes an answer and says nothing. */
  private watchSilence(): void {
    clearTimeout(this.silence);
    const owed = [...this.sent].some(([camera, n]) => n > (this.received.get(camera) ?? 0));
    if (!this.isOpen || this.over || !(owed || this.finishSent)) return;
    const socket = this.socket;
    this.silence = setTimeout(() => {
      if (socket !== this.socket) return;
      this.closed(1006, "no answer");
      socket?.close();
    }, this.o.silenceMs);
  }

  private closed(code: number, reason: string): void {
    this.isOpen = false;
    this.socket = undefined;
    clearTimeout(this.silence);
    if (this.over) return;
    if (code === 1000 && this.finishSent) return this.end("finished", "");
    const why = reason || `connection closed (${code})`;
    if (!(passing.has(code) || broken.has(code)) || this.failures >= this.o.tries) return this.end("failed", why, code);
    const wait = Math.min(8000, this.o.retryMs * 2 ** this.failures) * (0.75 + Math.random() / 2);
    this.failures++;
    this.o.on.state?.("waiting", why);
    this.retryTimer = setTimeout(() => this.connect(), wait);
  }

  private end(state: LiveState, why: string, code = 0): void {
    if (this.over) return;
    this.over = true;
    clearTimeout(this.flushTimer);
    clearTimeout(this.retryTimer);
    clearTimeout(this.silence);
    const socket = this.socket;
    this.socket = undefined;
    this.isOpen = false;
    socket?.close(1000);
    this.o.on.state?.(state, why);
    if (state === "finished") this.ended?.resolve();
    else this.ended?.reject(new ServiceError(code >= 4000 ? code - 4000 : 14, why));
  }
}
