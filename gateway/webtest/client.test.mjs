// Tests of the client module against a made socket that plays the service.
import assert from "node:assert/strict";
import { test } from "node:test";
import { LivePractice, Service, ServiceError, number } from "../web/page/js/courtkin.js";

/** Network makes sockets and lets a test answer as the service. */
class Network {
  sockets = [];
  connect = (url, protocols) => {
    const socket = { url, protocols, sent: [], send(text) { this.sent.push(JSON.parse(text)); }, close() { this.closed = true; } };
    this.sockets.push(socket);
    return socket;
  };
  get last() { return this.sockets.at(-1); }
  /** open lets the newest connection stand. */
  open() { this.last.onopen(); this.say({ opened: { serverVersion: "made" } }); }
  say(message) { this.last.onmessage({ data: JSON.stringify(message) }); }
  ack(received, keepFrom, camera = 0, more = {}) { this.say({ ack: { camera, received, keepFrom, ...more } }); }
  drop(code = 1006, reason = "") { this.last.onclose({ code, reason }); }
  /** frames are the indexes sent over a connection, in order. */
  frames(socket = this.last) { return socket.sent.flatMap((m) => m.frames?.frames.map((f) => f.index) ?? []); }
}

function start(options = {}) {
  const net = new Network(), told = { swings: [], states: [], events: [], readings: [] };
  const live = new LivePractice({
    url: "ws://x/v1/practices/live", setup: { layout: "POINT_LAYOUT_COCO_17" }, connect: net.connect, retryMs: 1, batch: 2, ...options,
    on: {
      swing: (s) => told.swings.push(s.id), state: (s) => told.states.push(s),
      event: (e) => told.events.push(e.kind), reading: (r) => told.readings.push(number(r.timeUs)),
    },
  });
  return { net, live, told };
}

const frame = (index) => ({ index, timeUs: index * 10_000, camera: 0 });
const swing = (id) => ({ id, cues: [{ name: "cue_" + id }] });
const soon = (ms = 20) => new Promise((resolve) => setTimeout(resolve, ms));

test("open comes first, frames in order, finish with their count", async () => {
  const { net, live, told } = start();
  for (let i = 0; i < 5; i++) live.push(frame(i));
  net.open();
  const done = live.finish();
  assert.deepEqual(Object.keys(net.last.sent[0]), ["open"]);
  assert.deepEqual(net.frames(), [0, 1, 2, 3, 4]);
  assert.deepEqual(net.last.sent.at(-1), { finish: { frames: [5] } });
  net.drop(1000);
  await done;
  assert.equal(told.states.at(-1), "finished");
});

test("a few frames are sent without waiting for more", async () => {
  const { net, live } = start({ batch: 50 });
  net.open();
  live.push(frame(0));
  await soon(120);
  assert.deepEqual(net.frames(), [0]);
  live.abandon();
});

test("after a cut, frames are sent again from keep_from and swings are told once", async () => {
  const { net, live, told } = start();
  net.open();
  for (let i = 0; i < 10; i++) live.push(frame(i));
  net.ack(10, 6);
  net.say({ swing: swing("a") });
  net.drop();
  live.push(frame(10));
  live.push(frame(11));
  await soon();
  assert.equal(net.sockets.length, 2);
  net.open();
  assert.deepEqual(net.frames(), [6, 7, 8, 9, 10, 11]);
  assert.equal(net.last.sent[0].open.swingsSoFar, 1);
  assert.deepEqual(net.last.sent[0].open.recentCues, ["cue_a"]);
  net.say({ swing: swing("a") });
  net.say({ swing: swing("b") });
  assert.deepEqual(told.swings, ["a", "b"]);
  const done = live.finish();
  assert.deepEqual(net.last.sent.at(-1), { finish: { frames: [6] } });
  net.drop(1000);
  await done;
});

test("what a connection settled about the clock is told to the next", async () => {
  const { net, live } = start();
  net.open();
  assert.equal("clock" in net.last.sent[0].open, false);
  for (let i = 0; i < 4; i++) live.push(frame(i));
  net.ack(2, 0);
  net.ack(4, 1, 0, { clock: { slowMotionFactor: 4, sd: 0.1 } });
  net.drop();
  await soon();
  net.open();
  assert.deepEqual(net.last.sent[0].open.clock, { slowMotionFactor: 4, sd: 0.1 });
  live.abandon();
});

test("events and readings told before a cut are not told again", async () => {
  const { net, live, told } = start();
  net.open();
  for (let i = 0; i < 4; i++) live.push(frame(i));
  net.say({ reading: { timeUs: "20000" } });
  net.say({ event: { kind: "CONTACT", timeUs: "30000" } });
  net.drop();
  await soon();
  net.open();
  net.say({ reading: { timeUs: "20000" } });
  net.say({ event: { kind: "CONTACT", timeUs: "30000" } });
  net.say({ reading: { timeUs: "40000" } });
  assert.deepEqual(told.events, ["CONTACT"]);
  assert.deepEqual(told.readings, [20000, 40000]);
  live.abandon();
});

test("no more frames are under way than the window allows", () => {
  const { net, live } = start({ window: 4 });
  net.open();
  for (let i = 0; i < 20; i++) live.push(frame(i));
  assert.deepEqual(net.frames(), [0, 1, 2, 3]);
  net.ack(4, 2);
  assert.deepEqual(net.frames(), [0, 1, 2, 3, 4, 5, 6, 7]);
  assert.equal(live.waiting, 12);
  live.abandon();
});

test("while the connection is away, no more is kept than asked", async () => {
  const { net, live } = start({ keep: 50 });
  for (let i = 0; i < 500; i++) live.push(frame(i));
  net.open();
  assert.deepEqual(net.frames().slice(0, 2), [450, 451]);
  assert.equal(net.frames().length, 50);
  live.abandon();
});

test("a cut after finish is finished over the next connection", async () => {
  const { net, live, told } = start();
  net.open();
  live.push(frame(0));
  live.push(frame(1));
  net.ack(2, 0);
  const done = live.finish();
  net.drop(4014, "restarting");
  await soon();
  net.open();
  assert.deepEqual(net.frames(), [0, 1]);
  assert.deepEqual(net.last.sent.at(-1), { finish: { frames: [2] } });
  net.drop(1000);
  await done;
  assert.deepEqual(told.states, ["connecting", "open", "waiting", "connecting", "open", "finished"]);
});

for (const [code, number, why] of [[4003, 3, "setup.layout: is required"], [4016, 16, "no such key"], [4007, 7, "not allowed to stream"]]) {
  test(`close code ${code} ends the practice with its reason`, async () => {
    const { net, live, told } = start();
    net.open();
    live.push(frame(0));
    const done = live.finish();
    net.drop(code, why);
    await assert.rejects(done, (e) => e instanceof ServiceError && e.code === number && e.message === why);
    assert.equal(told.states.at(-1), "failed");
    await soon();
    assert.equal(net.sockets.length, 1);
  });
}

test("attempts end after so many without an answer", async () => {
  const { net, live, told } = start({ tries: 3 });
  const done = assert.rejects(live.finish());
  for (let i = 0; i < 4; i++) { net.drop(); await soon(40); }
  await done;
  assert.equal(net.sockets.length, 4);
  assert.equal(told.states.at(-1), "failed");
});

test("a connection that owes an answer and says nothing counts as dead", async () => {
  const { net, live } = start({ silenceMs: 30 });
  net.open();
  live.push(frame(0));
  live.push(frame(1));
  await soon(80);
  assert.equal(net.sockets.length, 2);
  live.abandon();
});

test("two cameras are counted and kept apart", async () => {
  const { net, live } = start({ batch: 4 });
  net.open();
  for (let i = 0; i < 4; i++) { live.push({ ...frame(i), camera: 0 }); live.push({ ...frame(i), camera: 1 }); }
  net.ack(4, 3, 0);
  net.ack(4, 1, 1);
  net.drop();
  await soon();
  net.open();
  const again = net.last.sent.flatMap((m) => m.frames?.frames.map((f) => [f.camera, f.index]) ?? []);
  assert.deepEqual(again, [[1, 1], [1, 2], [0, 3], [1, 3]]);
  const done = live.finish();
  assert.deepEqual(net.last.sent.at(-1), { finish: { frames: [1, 3] } });
  net.drop(1000);
  await done;
});

test("a token goes as a subprotocol", () => {
  const { net, live } = start({ token: "k-1" });
  assert.deepEqual(net.last.protocols, ["courtkin.v1.json", "courtkin.v1.bearer.k-1"]);
  live.abandon();
});

test("single calls carry the token and turn errors into ServiceError", async () => {
  const asked = [];
  const answer = (status, body) => async (url, init) => { asked.push([url, init]); return new Response(body, { status }); };
  const ok = new Service("https://x/", { token: "k", fetch: answer(200, '{"swings":[],"warnings":[]}') });
  assert.deepEqual(await ok.analyze({ setup: {}, frames: [] }), { swings: [], warnings: [] });
  assert.equal(asked[0][0], "https://x/v1/clips:analyze");
  assert.equal(asked[0][1].headers.Authorization, "Bearer k");
  const bad = new Service("https://x", { fetch: answer(400, '{"code":3,"message":"frames: empty","details":[]}') });
  await assert.rejects(bad.checkSetup({}, []), (e) => e.code === 3 && e.message === "frames: empty");
  const away = new Service("https://x", { fetch: async () => { throw new TypeError("no route"); } });
  await assert.rejects(away.catalog(), (e) => e.code === 14);
  const proxy = new Service("https://x", { fetch: answer(502, "<html>") });
  await assert.rejects(proxy.catalog(), (e) => e.code === 14);
  assert.equal(ok.liveURL(), "wss://x/v1/practices/live");
});

test("numbers of the JSON mapping", () => {
  assert.equal(number("9007199254740991"), 9007199254740991);
  assert.ok(Number.isNaN(number("NaN")));
  assert.equal(number("-Infinity"), -Infinity);
  assert.ok(Number.isNaN(number(undefined)));
  assert.equal(number(0), 0);
});
