// The moving figure: body, racket and ball on a canvas, seen from where the
// reader likes. Points are named; axes are the court's (X to the net, Y up, Z
// to the right of a player who faces the net), metres. Frames that hold image
// points alone are drawn as the camera saw them.
import { number } from "./courtkin.js";
const coco = [
    "nose", "left_eye", "right_eye", "left_ear", "right_ear", "left_shoulder", "right_shoulder", "left_elbow", "right_elbow",
    "left_wrist", "right_wrist", "left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle",
];
const layouts = {
    POINT_LAYOUT_COCO_17: coco,
    POINT_LAYOUT_BLAZEPOSE_33: [
        "nose", "", "", "", "", "", "", "left_ear", "right_ear", "", "", "left_shoulder", "right_shoulder", "left_elbow", "right_elbow",
        "left_wrist", "right_wrist", "", "", "left_hand", "right_hand", "", "", "left_hip", "right_hip", "left_knee", "right_knee",
        "left_ankle", "right_ankle", "left_heel", "right_heel", "left_toe", "right_toe",
    ],
    POINT_LAYOUT_BODY_25: [
        "nose", "neck", "right_shoulder", "right_elbow", "right_wrist", "left_shoulder", "left_elbow", "left_wrist", "mid_hip",
        "right_hip", "right_knee", "right_ankle", "left_hip", "left_knee", "left_ankle", "", "", "right_ear", "left_ear",
        "left_toe", "", "left_heel", "right_toe", "", "right_heel",
    ],
};
const racketNames = ["racket_tip", "racket_throat", "racket_butt", "racket_left", "racket_right"];
const limbs = [
    ["left_shoulder", "right_shoulder"], ["left_hip", "right_hip"], ["left_shoulder", "left_hip"], ["right_shoulder", "right_hip"],
    ["left_shoulder", "left_elbow"], ["left_elbow", "left_wrist"], ["right_shoulder", "right_elbow"], ["right_elbow", "right_wrist"],
    ["left_hip", "left_knee"], ["left_knee", "left_ankle"], ["right_hip", "right_knee"], ["right_knee", "right_ankle"],
    ["left_ankle", "left_toe"], ["right_ankle", "right_toe"],
];
/** pointNames are the names of a setup's body points, in order. */
export function pointNames(setup) {
    return setup.layout === "POINT_LAYOUT_NAMED" ? setup.pointNames ?? [] : layouts[setup.layout ?? ""] ?? coco;
}
/** flat says whether frames hold image points alone. */
export function flat(frame) { return !frame.world?.length && !!frame.image?.length; }
/** poseOf names a frame's points; what was not seen is left out. */
export function poseOf(setup, frame) {
    const pose = new Map();
    if (flat(frame)) {
        take2(pose, pointNames(setup), frame.image ?? []);
        take2(pose, racketNames, frame.racketImage ?? []);
        take2(pose, ["ball"], frame.ballImage ?? []);
        return pose;
    }
    const turn = setup.worldAxes === "WORLD_AXES_CAMERA" ? fromCamera : (p) => p;
    take3(pose, pointNames(setup), frame.world ?? [], turn);
    take3(pose, racketNames, frame.racketWorld ?? [], turn);
    take3(pose, ["ball"], frame.ballWorld ?? [], turn);
    return pose;
}
function take2(pose, names, list) {
    names.forEach((name, i) => {
        if (name && number(list[3 * i + 2]) > 0)
            pose.set(name, { x: 0, y: -number(list[3 * i + 1]), z: number(list[3 * i]) });
    });
}
function take3(pose, names, list, turn) {
    names.forEach((name, i) => {
        if (!name || !(number(list[4 * i + 3]) > 0))
            return;
        pose.set(name, turn({ x: number(list[4 * i]), y: number(list[4 * i + 1]), z: number(list[4 * i + 2]) }));
    });
}
/** fromCamera turns camera axes (x right, y down, z away) as if the camera stood behind the player. */
function fromCamera(p) { return { x: p.z, y: -p.y, z: p.x }; }
/** Motion is a swing's trace as poses over time. */
export class Motion {
    times;
    columns = new Map();
    names = new Set();
    constructor(swing) {
        this.times = swing.trace?.times.map(number) ?? [];
        for (const s of swing.trace?.series ?? []) {
            this.columns.set(s.name, s.values);
            const place = /^(.+)\.x$/.exec(s.name);
            if (place)
                this.names.add(place[1]);
        }
    }
    get empty() { return this.times.length < 2; }
    /** at returns the pose t seconds from contact, between samples. */
    at(t) {
        const pose = new Map();
        if (this.empty)
            return pose;
        const last = this.times.length - 1;
        const f = Math.max(0, Math.min(last, ((t - this.times[0]) / (this.times[last] - this.times[0])) * last));
        const i = Math.min(last - 1, Math.floor(f)), w = f - i;
        for (const name of this.names) {
            const v = (axis) => {
                const c = this.columns.get(name + axis);
                return c ? number(c[i]) * (1 - w) + number(c[i + 1]) * w : NaN;
            };
            const p = { x: v(".x"), y: v(".y"), z: v(".z") };
            if (Number.isFinite(p.x + p.y + p.z))
                pose.set(name === "tip" ? "racket_tip" : name, p);
        }
        return pose;
    }
}
export const ink = {
    body: "#14171a", near: "#14171a", racket: "#a2360b", ball: "#7c8a00", faint: "#9aa3ab", court: "#c3c9cf", path: "#a2360b",
};
/** View turns points of the court into points of the canvas. */
export class View {
    yaw = 0.9; // rad; 0 looks along X from behind the player, growing to his right
    pitch = 0.16; // rad; looking down
    width = 1;
    height = 1;
    scale = 100; // px a metre
    focus = { x: 0, y: 1, z: 0 };
    project(p) {
        const x = p.x - this.focus.x, y = p.y - this.focus.y, z = p.z - this.focus.z;
        const across = z * Math.cos(this.yaw) - x * Math.sin(this.yaw);
        const away = x * Math.cos(this.yaw) + z * Math.sin(this.yaw);
        const up = y * Math.cos(this.pitch) + away * Math.sin(this.pitch);
        return [this.width / 2 + across * this.scale, this.height * 0.54 - up * this.scale];
    }
}
/** Stage is a canvas with a figure on it. */
export class Stage {
    canvas;
    view = new View();
    g;
    path = [];
    balls = [];
    settled = false;
    constructor(canvas) {
        this.canvas = canvas;
        this.g = canvas.getContext("2d");
        this.turnByHand();
    }
    /** onturn is called when the reader turned the view. */
    onturn = () => { };
    turn(by) { this.view.yaw += by; this.onturn(); }
    turnByHand() {
        let last;
        this.canvas.addEventListener("pointerdown", (e) => { last = e.clientX; this.canvas.setPointerCapture(e.pointerId); });
        this.canvas.addEventListener("pointermove", (e) => {
            if (last === undefined)
                return;
            this.turn((e.clientX - last) * 0.01);
            last = e.clientX;
        });
        for (const end of ["pointerup", "pointercancel"])
            this.canvas.addEventListener(end, () => { last = undefined; });
    }
    reset() { this.path = []; this.balls = []; this.settled = false; }
    /** size fits the canvas to its place and empties it. */
    size() {
        const ratio = Math.min(2, devicePixelRatio || 1), c = this.canvas;
        const w = Math.round(c.clientWidth * ratio), h = Math.round(c.clientHeight * ratio);
        if (c.width !== w || c.height !== h) {
            c.width = w;
            c.height = h;
        }
        this.view.width = w;
        this.view.height = h;
        this.g.clearRect(0, 0, w, h);
    }
    /** centre looks at a figure whose hips are over the origin. */
    centre() {
        this.view.focus = { x: 0, y: 1.05, z: 0 };
        this.view.scale = Math.min(this.view.height / 2.75, this.view.width / 2.35);
        const g = this.g, [x, y] = this.view.project({ x: 0, y: 0, z: 0 });
        g.strokeStyle = ink.court;
        g.lineWidth = Math.max(2, this.view.scale * 0.02);
        g.beginPath();
        g.ellipse(x, y, this.view.scale * 0.9, this.view.scale * 0.9 * Math.sin(this.view.pitch), 0, 0, 7);
        g.stroke();
    }
    /** follow keeps the player in view, without haste. */
    follow(pose) {
        const hip = middle(pose, "left_hip", "right_hip");
        if (!hip)
            return;
        const f = this.view.focus, k = this.settled ? 0.06 : 1;
        this.view.focus = { x: f.x + (hip.x - f.x) * k, y: 1.05, z: f.z + (hip.z - f.z) * k };
        this.view.scale = Math.min(this.view.height / 3.05, this.view.width / 2.9);
        this.settled = true;
    }
    /** fit scales image points to the canvas. */
    fit(width, height) {
        this.view.yaw = 0;
        this.view.pitch = 0;
        this.view.scale = Math.min(this.view.width / width, this.view.height / height);
        this.view.focus = { x: 0, y: -height * 0.54, z: width / 2 };
    }
    /** court draws the near half of a court by the rules of tennis. */
    court() {
        const g = this.g, lines = [
            [0, -4.115, 0, 4.115], [0, -5.485, 0, 5.485], [0, -4.115, 6, -4.115], [0, 4.115, 6, 4.115], [0, 0, 0.1, 0],
            [5.485, -4.115, 5.485, 4.115],
        ]; // X, Z to X, Z; m
        g.strokeStyle = ink.court;
        g.lineWidth = Math.max(2, this.view.scale * 0.04);
        for (const [x1, z1, x2, z2] of lines)
            this.stroke({ x: x1, y: 0, z: z1 }, { x: x2, y: 0, z: z2 });
    }
    stroke(a, b) {
        const [x1, y1] = this.view.project(a), [x2, y2] = this.view.project(b), g = this.g;
        g.beginPath();
        g.moveTo(x1, y1);
        g.lineTo(x2, y2);
        g.stroke();
    }
    /** draw draws a pose; colour tells several figures apart. */
    draw(pose, colour = ink.body, racket = ink.racket) {
        const g = this.g, s = this.view.scale;
        const unit = this.heightOf(pose);
        g.lineCap = "round";
        g.lineJoin = "round";
        g.strokeStyle = colour;
        for (const [a, b] of limbs) {
            const p = pose.get(a), q = pose.get(b);
            if (!p || !q)
                continue;
            g.lineWidth = Math.max(2.5, s * unit * (a.includes("hip") || a.includes("knee") ? 0.062 : 0.048));
            this.stroke(p, q);
        }
        this.head(pose, colour, unit);
        this.racket(pose, racket, unit);
    }
    /** heightOf is 1 for metres, and for pixels the metres' worth of them. */
    heightOf(pose) {
        const shoulder = middle(pose, "left_shoulder", "right_shoulder"), hip = middle(pose, "left_hip", "right_hip");
        if (!shoulder || !hip)
            return 1;
        const trunk = Math.hypot(shoulder.x - hip.x, shoulder.y - hip.y, shoulder.z - hip.z);
        return trunk > 5 ? trunk / 0.5 : 1; // a trunk of half a metre; more than 5 of anything are pixels
    }
    head(pose, colour, unit) {
        const ears = middle(pose, "left_ear", "right_ear") ?? pose.get("nose"), neck = middle(pose, "left_shoulder", "right_shoulder");
        if (!ears)
            return;
        const g = this.g, [x, y] = this.view.project(ears);
        if (neck) {
            g.lineWidth = Math.max(2, this.view.scale * unit * 0.04);
            this.stroke(neck, ears);
        }
        g.fillStyle = colour;
        g.beginPath();
        g.arc(x, y, Math.max(5, this.view.scale * unit * 0.105), 0, 7);
        g.fill();
        const nose = pose.get("nose");
        if (nose && nose !== ears) {
            g.lineWidth = Math.max(2, this.view.scale * unit * 0.035);
            this.stroke(ears, nose);
        }
    }
    racket(pose, colour, unit) {
        const g = this.g, tip = pose.get("racket_tip"), throat = pose.get("racket_throat") ?? pose.get("racket_head");
        const butt = pose.get("racket_butt") ?? pose.get("hand");
        g.strokeStyle = colour;
        g.lineWidth = Math.max(2.5, this.view.scale * unit * 0.03);
        if (butt && tip)
            this.stroke(butt, pose.get("racket_throat") ?? between(butt, tip, 0.5));
        if (!tip || !throat)
            return;
        const l = pose.get("racket_left"), r = pose.get("racket_right");
        if (pose.has("racket_throat") && l && r)
            return this.hoop(between(throat, tip, 0.5), minus(tip, throat, 0.5), minus(r, l, 0.5));
        if (!butt)
            return;
        g.lineWidth = Math.max(5, this.view.scale * unit * 0.085); // the face's turn is not known: a head without one
        this.stroke(between(butt, tip, 0.56), tip);
    }
    /** hoop draws the racket's head: an ellipse in space with half axes a and b. */
    hoop(c, a, b) {
        const g = this.g;
        g.beginPath();
        for (let i = 0; i <= 24; i++) {
            const u = Math.cos((i / 12) * Math.PI), v = Math.sin((i / 12) * Math.PI);
            const [x, y] = this.view.project({ x: c.x + a.x * u + b.x * v, y: c.y + a.y * u + b.y * v, z: c.z + a.z * u + b.z * v });
            if (i)
                g.lineTo(x, y);
            else
                g.moveTo(x, y);
        }
        g.stroke();
    }
    /** trail remembers the tip for a third of a second and draws its path. */
    trail(pose, t) {
        const tip = pose.get("racket_tip");
        if (tip)
            this.path.push({ p: tip, t });
        this.path = this.path.filter((s) => t - s.t < 0.35 && s.t <= t);
        this.line(this.path.map((s) => s.p), ink.path, 0.016);
    }
    /** line draws a path through points. */
    line(points, colour, width) {
        const g = this.g;
        g.strokeStyle = colour;
        g.lineWidth = Math.max(1.5, this.view.scale * width);
        g.setLineDash([]);
        g.beginPath();
        points.forEach((p, i) => { const [x, y] = this.view.project(p); if (i)
            g.lineTo(x, y);
        else
            g.moveTo(x, y); });
        g.stroke();
    }
    /** ball draws the ball with where it has just been. */
    ball(pose) {
        const g = this.g, ball = pose.get("ball");
        if (!ball) {
            this.balls = [];
            return;
        }
        this.balls = this.balls.concat(ball).slice(-9);
        const unit = this.heightOf(pose);
        g.fillStyle = ink.ball;
        this.balls.forEach((p, i) => {
            const [x, y] = this.view.project(p), newest = i === this.balls.length - 1;
            g.globalAlpha = newest ? 1 : (0.5 * (i + 1)) / this.balls.length;
            g.beginPath();
            g.arc(x, y, Math.max(newest ? 5 : 2.5, this.view.scale * unit * (newest ? 0.045 : 0.025)), 0, 7);
            g.fill();
        });
        g.globalAlpha = 1;
    }
}
function middle(pose, a, b) {
    const p = pose.get(a), q = pose.get(b);
    return p && q ? between(p, q, 0.5) : undefined;
}
function between(a, b, w) {
    return { x: a.x + (b.x - a.x) * w, y: a.y + (b.y - a.y) * w, z: a.z + (b.z - a.z) * w };
}
function minus(a, b, by) { return { x: (a.x - b.x) * by, y: (a.y - b.y) * by, z: (a.z - b.z) * by }; }
