// Clips from files: the request as JSON, or lines of JSON (a setup, then a
// frame a line; a recorded stream is read too).
import { number } from "./courtkin.js";
/** Largest file read in the page; larger ones are for the command line. */
export const mostBytes = 200e6;
/** readClip reads a file's text; errors say what is wrong and where. */
export function readClip(text) {
    const clip = whole(text) ?? lines(text);
    if (!clip.setup || typeof clip.setup !== "object")
        throw new Error("no setup in the file");
    if (!Array.isArray(clip.frames) || clip.frames.length === 0)
        throw new Error("no frames in the file");
    clip.frames.forEach((f, i) => {
        if (!Number.isFinite(number(f.timeUs)))
            throw new Error(`frame ${i}: no timeUs`);
    });
    return clip;
}
function whole(text) {
    let value;
    try {
        value = JSON.parse(text);
    }
    catch {
        return undefined;
    }
    const clip = value;
    return clip && Array.isArray(clip.frames) ? { setup: clip.setup, frames: clip.frames.map(spelled) } : undefined;
}
function lines(text) {
    const clip = { setup: undefined, frames: [] };
    text.split("\n").forEach((line, i) => {
        if (!line.trim())
            return;
        let m;
        try {
            m = JSON.parse(line);
        }
        catch {
            throw new Error(`line ${i + 1} is no JSON`);
        }
        if (m.open)
            clip.setup = m.open.setup;
        else if (m.frames)
            clip.frames.push(...m.frames.frames?.map(spelled) ?? []);
        else if (m.setup)
            clip.setup = m.setup;
        else if (m.finish || m.feed)
            return;
        else if (!clip.setup)
            clip.setup = m;
        else
            clip.frames.push(spelled(m));
    });
    return clip;
}
/** spelled takes either spelling of a frame's fields. */
function spelled(f) {
    const other = f;
    return {
        ...f, index: f.index ?? 0, timeUs: f.timeUs ?? other.time_us,
        racketImage: f.racketImage ?? other.racket_image, racketWorld: f.racketWorld ?? other.racket_world,
        ballImage: f.ballImage ?? other.ball_image, ballWorld: f.ballWorld ?? other.ball_world,
    };
}
