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
/** number reads a number of the JSON mapping; what is missing or no number is NaN. */
export function number(v) {
    return v === undefined || v === null || v === "" ? NaN : Number(v);
}
// ------------------------------------------------------------- single calls --
/** ServiceError is google.rpc.Status: code is gRPC's number, 14 also when nothing answered. */
export class ServiceError extends Error {
    code;
    details;
    constructor(code, message, details = []) {
        super(message);
        this.code = code;
        this.details = details;
        this.name = "ServiceError";
    }
}
function present(token) { return typeof token === "function" ? token() : token; }
/** Service makes the single calls. */
export class Service {
    options;
    base;
    constructor(base, options = {}) {
        this.options = options;
        this.base = base.replace(/\/+$/, "");
    }
    analyze(clip, signal) { return this.call("/v1/clips:analyze", clip, signal); }
    compare(reference, candidate, signal) {
        return this.call("/v1/swings:compare", { reference, candidate }, signal);
    }
    summarize(swings, player, baseline) {
        return this.call("/v1/practices:summarize", { swings, player, baseline });
    }
    adviseFeed(request) { return this.call("/v1/feeds:advise", request); }
    checkSetup(setup, frames) { return this.call("/v1/setups:check", { setup, frames }); }
    catalog(locale = "en") { return this.call(`/v1/catalog?locale=${encodeURIComponent(locale)}`); }
    /** liveURL is where a LivePractice connects to. */
    liveURL() { return this.base.replace(/^http/, "ws") + "/v1/practices/live"; }
    async call(path, body, signal) {
        const headers = {};
        if (body)
            headers["Content-Type"] = "application/json";
        const token = present(this.options.token);
        if (token)
            headers["Authorization"] = `Bearer ${token}`;
        const send = this.options.fetch ?? fetch;
        let answer;
        try {
            answer = await send(this.base + path, { method: body ? "POST" : "GET", headers, body: body && JSON.stringify(body), signal });
        }
        catch (cause) {
            if (signal?.aborted)
                throw cause;
            throw new ServiceError(14, "the service cannot be reached");
        }
        const text = await answer.text();
        if (answer.ok)
            return JSON.parse(text);
        throw readError(text, answer.status);
    }
}
function readError(text, status) {
    try {
        const said = JSON.parse(text);
        return new ServiceError(said.code ?? 2, said.message ?? `status ${status}`, said.details);
    }
    catch {
        return new ServiceError(status >= 502 ? 14 : 2, `status ${status}`);
    }
}
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
    o;
    // Of the practice.
    kept = []; // sent but perhaps needed again, then not yet sent
    next = 0; // kept[next] is the first not yet sent on this connection
    seen = new Set(); // ids of swings told
    cues;
    swings;
    horizonUs = -Infinity; // the latest event or reading told
    muteUntilUs = -Infinity; // after a resume: what was told before
    notices = []; // feeds that may still count
    clock; // how the clip's clock was settled, for the next connection
    ended;
    over = false;
    // Of this connection.
    socket;
    isOpen = false;
    finishSent = false;
    sent = new Map(); // frames sent, by camera
    received = new Map(); // frames acknowledged, by camera
    failures = 0;
    flushTimer;
    retryTimer;
    silence;
    constructor(options) {
        this.o = {
            batch: 6, window: 240, keep: 7200, retryMs: 250, tries: 12, silenceMs: 10_000, recentCues: [], swingsSoFar: 0,
            connect: (url, protocols) => new WebSocket(url, protocols),
            ...options,
        };
        this.cues = [...this.o.recentCues];
        this.swings = this.o.swingsSoFar;
        this.connect();
    }
    /** kept frames, for display. */
    get waiting() { return this.kept.length - this.next; }
    /** push hands a frame over; it is sent with a few others. */
    push(frame) {
        if (this.over || this.ended)
            return;
        this.kept.push(frame);
        if (this.kept.length > this.o.keep)
            this.giveUpOldest();
        if (this.waiting >= this.o.batch)
            this.pump();
        else
            this.flushTimer ??= setTimeout(() => this.pump(), 60);
    }
    /** fed tells that a ball machine has just fed; the next connection hears of it while it counts. */
    fed(timeUs) {
        this.notices = this.notices.filter((t) => t > timeUs - noticeLastsUs).concat(timeUs);
        this.say({ feed: { timeUs } });
    }
    /** finish ends the practice honestly and resolves when all findings are in. */
    finish() {
        if (this.over)
            return Promise.resolve();
        return new Promise((resolve, reject) => {
            this.ended = { resolve, reject };
            this.pump();
        });
    }
    /** abandon ends the practice at once; what is not settled is lost. */
    abandon() { this.end("finished", "abandoned"); }
    connect() {
        this.o.on.state?.("connecting", "");
        const protocols = [textProtocol];
        const token = present(this.o.token);
        if (token)
            protocols.push(tokenProtocol + token);
        const socket = this.o.connect(this.o.url, protocols);
        this.socket = socket;
        socket.onopen = () => { if (socket === this.socket)
            this.begin(); };
        socket.onmessage = (e) => { if (socket === this.socket)
            this.take(String(e.data)); };
        socket.onclose = (e) => { if (socket === this.socket)
            this.closed(e.code, e.reason); };
        socket.onerror = () => { }; // onclose follows and says more
    }
    /** begin opens a stream and sends everything kept, from its start. */
    begin() {
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
        for (const timeUs of this.notices)
            this.say({ feed: { timeUs } });
        this.pump();
    }
    /** pump sends what may be sent now. */
    pump() {
        clearTimeout(this.flushTimer);
        this.flushTimer = undefined;
        if (!this.isOpen || this.over)
            return;
        for (;;) {
            const frames = this.batch();
            if (frames.length === 0)
                break;
            this.say({ frames: { frames } });
        }
        if (this.ended && this.waiting === 0 && !this.finishSent) {
            this.finishSent = true;
            this.say({ finish: { frames: this.counts() } });
        }
        this.watchSilence();
    }
    /** batch takes the next frames that the window lets through. */
    batch() {
        const frames = [];
        while (frames.length < this.o.batch && this.next < this.kept.length) {
            const frame = this.kept[this.next], camera = frame.camera ?? 0;
            const sent = this.sent.get(camera) ?? 0;
            if (sent - (this.received.get(camera) ?? 0) >= this.o.window)
                break;
            this.sent.set(camera, sent + 1);
            this.next++;
            frames.push(frame);
        }
        return frames;
    }
    counts() {
        const cameras = Math.max(0, ...this.sent.keys()) + 1;
        return Array.from({ length: cameras }, (_, i) => this.sent.get(i) ?? 0);
    }
    say(message) {
        if (this.isOpen)
            this.socket?.send(JSON.stringify(message));
    }
    take(text) {
        this.failures = 0;
        const m = JSON.parse(text);
        const on = this.o.on;
        if (m.ack)
            this.acknowledged(m.ack);
        else if (m.opened) {
            on.state?.("open", "");
            on.opened?.(m.opened.serverVersion);
        }
        else if (m.swing)
            this.tellOnce(m.swing);
        else if (m.event && this.fresh(m.event.timeUs))
            on.event?.(m.event);
        else if (m.reading && this.fresh(m.reading.timeUs))
            on.reading?.(m.reading);
        else if (m.warning)
            on.warning?.(m.warning);
        this.watchSilence();
    }
    /** fresh says whether an instant was not yet told about before a resume. */
    fresh(timeUs) {
        const t = number(timeUs);
        if (t <= this.muteUntilUs)
            return false;
        this.horizonUs = Math.max(this.horizonUs, t);
        return true;
    }
    tellOnce(swing) {
        if (this.seen.has(swing.id))
            return;
        this.seen.add(swing.id);
        this.swings++;
        if (swing.cues[0])
            this.cues.push(swing.cues[0].name);
        this.o.on.swing?.(swing);
    }
    /** acknowledged drops frames that are done with and sends further ones. */
    acknowledged(ack) {
        this.clock = ack.clock;
        this.received.set(ack.camera, ack.received);
        const sent = this.kept.slice(0, this.next).filter((f) => (f.camera ?? 0) !== ack.camera || f.index >= ack.keepFrom);
        this.kept = sent.concat(this.kept.slice(this.next));
        this.next = sent.length;
        if (this.waiting >= this.o.batch || this.ended)
            this.pump();
    }
    giveUpOldest() {
        const lost = this.kept.length - this.o.keep;
        this.kept.splice(0, lost);
        this.next = Math.max(0, this.next - lost);
    }
    /** watchSilence counts a connection as dead that owes an answer and says nothing. */
    watchSilence() {
        clearTimeout(this.silence);
        const owed = [...this.sent].some(([camera, n]) => n > (this.received.get(camera) ?? 0));
        if (!this.isOpen || this.over || !(owed || this.finishSent))
            return;
        const socket = this.socket;
        this.silence = setTimeout(() => {
            if (socket !== this.socket)
                return;
            this.closed(1006, "no answer");
            socket?.close();
        }, this.o.silenceMs);
    }
    closed(code, reason) {
        this.isOpen = false;
        this.socket = undefined;
        clearTimeout(this.silence);
        if (this.over)
            return;
        if (code === 1000 && this.finishSent)
            return this.end("finished", "");
        const why = reason || `connection closed (${code})`;
        if (!(passing.has(code) || broken.has(code)) || this.failures >= this.o.tries)
            return this.end("failed", why, code);
        const wait = Math.min(8000, this.o.retryMs * 2 ** this.failures) * (0.75 + Math.random() / 2);
        this.failures++;
        this.o.on.state?.("waiting", why);
        this.retryTimer = setTimeout(() => this.connect(), wait);
    }
    end(state, why, code = 0) {
        if (this.over)
            return;
        this.over = true;
        clearTimeout(this.flushTimer);
        clearTimeout(this.retryTimer);
        clearTimeout(this.silence);
        const socket = this.socket;
        this.socket = undefined;
        this.isOpen = false;
        socket?.close(1000);
        this.o.on.state?.(state, why);
        if (state === "finished")
            this.ended?.resolve();
        else
            this.ended?.reject(new ServiceError(code >= 4000 ? code - 4000 : 14, why));
    }
}
