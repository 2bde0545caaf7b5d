// What two phones show each other to find one another with no server: a short text, drawn as a QR
// code. It holds addresses on the local network and the fingerprint of this meeting's own
// certificate, so that nobody between the two can pass for either.

export interface Card { step: 'offer' | 'answer'; name: string; password: string; fingerprint: string; hosts: string[] }

const HEAD = 'chalkwalk:meet?';
/** More addresses make the picture hard to read. */
const HOSTS = 4;

const hexOf = (text: string) => text.replaceAll(':', '').toLowerCase();

/** The card of a side whose addresses are gathered. */
export function cardOf(step: Card['step'], sdp: string): Card {
  const line = (name: string) => new RegExp(`^a=${name}:(.*)$`, 'm').exec(sdp)?.[1]?.trim() ?? '';
  const hosts = [...sdp.matchAll(/^a=candidate:\S+ 1 udp \d+ (\S+) (\d+) typ host/gim)].map((found) => `${found[1]!.replace(/\.local$/, '')}~${found[2]}`);
  // Numbers of the older kind first: every network of phones has them.
  hosts.sort((a, b) => Number(a.includes(':')) - Number(b.includes(':')));
  return { step, name: line('ice-ufrag'), password: line('ice-pwd'), fingerprint: hexOf(line('fingerprint').replace(/^sha-256\s+/i, '')), hosts: [...new Set(hosts)].slice(0, HOSTS) };
}

export function write(card: Card): string {
  return HEAD + new URLSearchParams({ s: card.step === 'offer' ? '1' : '2', u: card.name, p: card.password, f: card.fingerprint, h: card.hosts.join(',') });
}

/** A card as another phone wrote it; nothing where it is another text. */
export function read(text: string): Card | undefined {
  const trimmed = text.trim();
  if (!trimmed.startsWith(HEAD)) return undefined;
  const fields = new URLSearchParams(trimmed.slice(HEAD.length));
  const [step, name, password, fingerprint] = ['s', 'u', 'p', 'f'].map((key) => fields.get(key) ?? '');
  const hosts = (fields.get('h') ?? '').split(',').filter((host) => /^[0-9A-Za-z.:-]+~\d{1,5}$/.test(host)).slice(0, HOSTS);
  const good = /^[12]$/.test(step!) && /^[\w+/-]{4,256}$/.test(name!) && /^[\w+/-]{22,256}$/.test(password!) && /^[0-9a-f]{64}$/.test(fingerprint!);
  return good ? { step: step === '1' ? 'offer' : 'answer', name: name!, password: password!, fingerprint: fingerprint!, hosts } : undefined;
}

/** The description that a browser wants of the other side. */
export function description(card: Card): RTCSessionDescriptionInit {
  const print = card.fingerprint.toUpperCase().match(/../g)!.join(':');
  const hosts = card.hosts.map((host, n) => {
    const [at, port] = host.split('~') as [string, string];
    const address = /^[0-9a-f]{8}-/i.test(at) ? `${at}.local` : at;
    return `a=candidate:${n + 1} 1 udp ${2_122_260_223 - n} ${address} ${port} typ host`;
  });
  const lines = ['v=0', 'o=- 1 1 IN IP4 0.0.0.0', 's=-', 't=0 0', 'a=group:BUNDLE 0', 'm=application 9 UDP/DTLS/SCTP webrtc-datachannel', 'c=IN IP4 0.0.0.0',
    'a=mid:0', `a=ice-ufrag:${card.name}`, `a=ice-pwd:${card.password}`, `a=fingerprint:sha-256 ${print}`, `a=setup:${card.step === 'offer' ? 'actpass' : 'active'}`,
    'a=sctp-port:5000', 'a=max-message-size:262144', ...hosts];
  return { type: card.step, sdp: `${lines.join('\r\n')}\r\n` };
}
