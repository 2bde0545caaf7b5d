// A direct link to another phone: a WebRTC channel on the local network, found by cards that the
// two show each other. No server has a part in it.
import { call } from './client';
import { cardOf, description, read, write } from './card';
import { app, redraw, wrong } from './state';

export interface Met { person: string; changes: number; files: number; originals: number; settled: boolean }

export const meeting = {
  phase: 'none' as 'none' | 'gathering' | 'offering' | 'answering' | 'open',
  /** What this phone shows. */
  text: '',
  met: undefined as Met | undefined,
  originals: true,
};

/** Bytes in one message: every browser takes so many. */
const MESSAGE = 60_000;
const AHEAD = 1 << 20;
const GATHER = 3_000;
const FIND = 30_000;

let peer: RTCPeerConnection | undefined;
let channel: RTCDataChannel | undefined;
let late: ReturnType<typeof setTimeout> | undefined;
let waiting: Uint8Array<ArrayBuffer>[] = [];

function begin(initiator: boolean): RTCPeerConnection {
  stop();
  const link = new RTCPeerConnection({ iceServers: [] });
  const pipe = link.createDataChannel('record', { negotiated: true, id: 0, ordered: true });
  pipe.binaryType = 'arraybuffer';
  pipe.bufferedAmountLowThreshold = AHEAD / 2;
  pipe.onbufferedamountlow = flow;
  const frames = framesOf((frame) => void call('meetTook', frame).catch(wrong));
  pipe.onmessage = (message: MessageEvent<ArrayBuffer>) => { if (!frames(new Uint8Array(message.data))) part('What came from the other phone cannot be read: meet again.'); };
  pipe.onopen = () => {
    clearTimeout(late);
    meeting.phase = 'open';
    meeting.met = undefined;
    void call('meetBegin', initiator, meeting.originals).catch((error: unknown) => part(String((error as Error).message)));
    redraw();
  };
  pipe.onclose = () => { if (channel === pipe) part(); };
  link.onconnectionstatechange = () => { if (peer === link && link.connectionState === 'failed') part('The two phones do not reach each other: join the same Wi-Fi, or open a hotspot on one of them, and begin again.'); };
  peer = link;
  channel = pipe;
  meeting.phase = 'gathering';
  meeting.text = '';
  redraw();
  return link;
}

/** Addresses of this phone, as far as it gives them. */
async function gathered(link: RTCPeerConnection): Promise<string> {
  if (link.iceGatheringState !== 'complete') {
    await new Promise<void>((resolve) => {
      setTimeout(resolve, GATHER);
      link.addEventListener('icegatheringstatechange', () => { if (link.iceGatheringState === 'complete') resolve(); });
    });
  }
  return link.localDescription?.sdp ?? '';
}

async function show(link: RTCPeerConnection, step: 'offer' | 'answer'): Promise<void> {
  const card = cardOf(step, await gathered(link));
  if (card.hosts.length === 0) {
    part();
    throw new Error('This phone is on no local network: join the same Wi-Fi, or open a hotspot on one of the two phones. It needs no internet.');
  }
  meeting.text = write(card);
  meeting.phase = step === 'offer' ? 'offering' : 'answering';
  redraw();
}

/** This phone shows its card first. */
export async function offer(): Promise<void> {
  const link = begin(true);
  await link.setLocalDescription(await link.createOffer());
  await show(link, 'offer');
}

/** Takes the other phone's card; true where it was one. */
export async function took(text: string): Promise<boolean> {
  const card = read(text);
  if (!card) return false;
  const wait = (patience: number) => { late = setTimeout(() => part('The two phones did not find each other: same Wi-Fi or hotspot? Begin again.'), patience); };
  if (card.step === 'offer') {
    const link = begin(false);
    // The first phone has yet to read the answer.
    wait(FIND * 4);
    await link.setRemoteDescription(description(card));
    await link.setLocalDescription(await link.createAnswer());
    await show(link, 'answer');
  } else {
    if (!peer || meeting.phase !== 'offering') throw new Error('This is an answer to another meeting: begin again on this phone.');
    wait(FIND);
    await peer.setRemoteDescription(description(card));
  }
  redraw();
  return true;
}

/** Frames as on any stream of bytes: each behind its length. */
export function sendFrame(frame: Uint8Array<ArrayBuffer>): void {
  const length = new Uint8Array(4);
  new DataView(length.buffer).setUint32(0, frame.length);
  waiting.push(length);
  for (let at = 0; at < frame.length; at += MESSAGE) waiting.push(frame.subarray(at, at + MESSAGE));
  flow();
}

function flow(): void {
  while (channel?.readyState === 'open' && waiting.length && channel.bufferedAmount < AHEAD) channel.send(waiting.shift()!);
}

/** Puts frames together; false where a length is none. */
function framesOf(whole: (frame: Uint8Array<ArrayBuffer>) => void): (piece: Uint8Array<ArrayBuffer>) => boolean {
  let frame: Uint8Array<ArrayBuffer> | undefined;
  let held = 0;
  return (piece) => {
    if (!frame) {
      if (piece.length !== 4) return false;
      const size = new DataView(piece.buffer, piece.byteOffset).getUint32(0);
      if (size === 0 || size > AHEAD) return false;
      [frame, held] = [new Uint8Array(size), 0];
      return true;
    }
    if (held + piece.length > frame.length) return false;
    frame.set(piece, held);
    held += piece.length;
    if (held === frame.length) { whole(frame); frame = undefined; }
    return true;
  };
}

function stop(): void {
  clearTimeout(late);
  const was = meeting.phase;
  channel?.close();
  peer?.close();
  [peer, channel, waiting] = [undefined, undefined, []];
  meeting.phase = 'none';
  meeting.text = '';
  if (was === 'open') void call('meetEnd').catch(() => undefined);
}

/** Ends the meeting. What was kept stays kept; the rest goes at the next one. */
export function part(words?: string): void {
  stop();
  if (words) wrong(new Error(words));
  redraw();
}

/** A word to the other phone first, so that it need not wait. */
export async function leave(): Promise<void> {
  await call('meetEnd').catch(() => undefined);
  setTimeout(() => part(), 200);
}

export function met(said: Met): void { meeting.met = said; if (app.state) redraw(); }
