// Voice notes: one tap begins, one tap stops and keeps. The recording goes into the voice form's file field and from there
// the way of every bench entry, so that it waits on the device when the network is away.

import { submitByScript } from './pressed.js';

const MAX_MS = 5 * 60_000;
/** Speech; a phone's recorder takes four times as much for nothing that is heard at a bench. */
const BITS_PER_S = 48_000;
const KINDS = [
  ['audio/webm;codecs=opus', 'webm'],
  ['audio/mp4', 'm4a'],
  ['audio/ogg;codecs=opus', 'ogg'],
];

const kind = 'MediaRecorder' in window ? KINDS.find(([type]) => MediaRecorder.isTypeSupported(type)) : undefined;
// On the root, since the bench's own elements are made anew with every entry.
const can = !window.isSecureContext ? 'insecure' : kind && navigator.mediaDevices ? 'ready' : 'unsupported';
document.documentElement.dataset.voice = can;

let recording = null;

const bar = document.createElement('div');
bar.className = 'recording-bar';
bar.hidden = true;
const said = document.createElement('p');
said.setAttribute('role', 'status');
const button = (label, className) => {
  const b = document.createElement('button');
  b.type = 'button';
  b.className = className;
  b.textContent = label;
  return b;
};
const keepButton = button('Stop and keep', 'primary big');
const dropButton = button('Throw away', 'quiet');
bar.append(said, keepButton, dropButton);
document.body.append(bar);

const minutes = (ms) => `${Math.floor(ms / 60_000)}:${String(Math.floor(ms / 1000) % 60).padStart(2, '0')}`;
const say = (words, { buttons }) => {
  bar.hidden = words === '';
  if (said.textContent !== words) said.textContent = words;
  keepButton.hidden = !buttons;
  dropButton.hidden = !buttons;
};

function tick() {
  if (!recording) return;
  const ms = performance.now() - recording.beganAt;
  // Not read out second by second: the words say it once, the clock is for the eye.
  recording.clock.textContent = minutes(ms);
  if (ms >= MAX_MS) stop();
}
setInterval(tick, 250);

async function begin() {
  if (recording) return;
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: true, noiseSuppression: true } });
  } catch (error) {
    const words =
      error.name === 'NotFoundError'
        ? 'This device has no microphone.'
        : 'The microphone was refused. Allow it for this page in the browser’s settings.';
    say(words, { buttons: false });
    setTimeout(() => recording || say('', { buttons: false }), 8000);
    return;
  }
  const recorder = new MediaRecorder(stream, { mimeType: kind[0], audioBitsPerSecond: BITS_PER_S });
  const clock = document.createElement('span');
  clock.setAttribute('aria-hidden', 'true');
  recording = { recorder, stream, parts: [], beganAt: performance.now(), dropped: false, clock };
  recorder.addEventListener('dataavailable', (event) => {
    if (event.data.size > 0) recording.parts.push(event.data);
  });
  recorder.addEventListener('stop', ended, { once: true });
  recorder.start(1000);
  say('Recording. ', { buttons: true });
  said.append(clock);
  keepButton.focus({ preventScroll: true });
}

function stop() {
  if (recording?.recorder.state === 'recording') recording.recorder.stop();
}

function ended() {
  const { parts, stream, beganAt, dropped } = recording;
  const durationMs = Math.round(performance.now() - beganAt);
  for (const track of stream.getTracks()) track.stop();
  recording = null;
  say('', { buttons: false });
  const form = document.querySelector('#bench .voice-form');
  document.querySelector('#bench [data-record]')?.focus({ preventScroll: true });
  if (dropped || parts.length === 0 || !form) return;
  const [type, ending] = kind;
  const file = new File(parts, `voice.${ending}`, { type: type.split(';')[0] });
  const holder = new DataTransfer();
  holder.items.add(file);
  form.querySelector('input[type=file]').files = holder.files;
  form.querySelector('input[name=durationMs]').value = String(Math.min(durationMs, MAX_MS));
  submitByScript(form);
}

document.addEventListener('click', (event) => {
  if (event.target.closest?.('[data-record]')) begin();
});
keepButton.addEventListener('click', stop);
dropButton.addEventListener('click', () => {
  if (!recording) return;
  recording.dropped = true;
  stop();
});
window.addEventListener('beforeunload', (event) => {
  if (recording) event.preventDefault();
});
