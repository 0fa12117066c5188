// Knows: keyboards plugged in at the browser (the Web MIDI API), and their messages as the page's own.
// Must never know: the rig, how a key looks.

export const here = () => Boolean(navigator.requestMIDIAccess) && isSecureContext;

/** Listen to every input; `send` gets messages for the show, `tell` a line about what is plugged in. */
export async function listen(send, tell) {
  const access = await navigator.requestMIDIAccess();
  const late = new Map();
  let timer = 0;
  // Controllers and wheels come in floods: the newest value of each goes out once a picture.
  const soon = (name, message) => {
    late.set(name, message);
    timer ||= requestAnimationFrame(() => { timer = 0; for (const each of late.values()) send(each); late.clear(); });
  };
  const take = ({ data: [status, one, two] }) => {
    const channel = (status & 15) + 1;
    const kind = status & 0xf0;
    if (kind === 0x90 || kind === 0x80) send({ word: "note", note: one, velocity: kind === 0x90 ? two : 0, channel });
    else if (kind === 0xb0 && one >= 64) send({ word: "control", control: one, value: two, channel });
    else if (kind === 0xb0) soon(`c${channel}.${one}`, { word: "control", control: one, value: two, channel });
    else if (kind === 0xe0) soon(`b${channel}`, { word: "bend", value: one + two * 128 - 8192, channel });
    else if (kind === 0xd0) soon(`p${channel}`, { word: "pressure", value: one, channel });
  };
  const plug = () => {
    const inputs = [...access.inputs.values()];
    for (const input of inputs) input.onmidimessage = take;
    tell(inputs.length ? `Listening to ${inputs.map((input) => input.name).join(", ")}` : "Nothing is plugged in here yet");
  };
  access.onstatechange = plug;
  plug();
}
