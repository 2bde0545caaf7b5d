// The house: a plan of its sides to walk, and the steps of the visit, never forced.
import { html, nothing, svg, type TemplateResult } from 'lit-html';
import { call } from '../client';
import { camera, icon, note, stepper, time } from '../parts-of-page';
import { act, add } from '../record';
import { app, go, redraw } from '../state';
import { path, screen } from '../screen';
import type { House, PlaceRow, RecordView } from '../shapes';
import { climb } from './climb';
import { urgent } from './troubles';

// Seen from above with the street at the foot: the crew goes counter-clockwise.
const WALLS: Record<string, { points: string; x: number; y: number }> = {
  front: { points: '60,250 300,250 240,190 120,190', x: 180, y: 226 },
  right: { points: '300,250 300,70 240,130 240,190', x: 276, y: 165 },
  rear: { points: '300,70 60,70 120,130 240,130', x: 180, y: 104 },
  left: { points: '60,70 60,250 120,190 120,130', x: 84, y: 165 },
};

function state(row: PlaceRow): string {
  if (row.counts.damaged) return 'damaged';
  if (row.fields['walked']) return 'cleared';
  return row.counts.cleared + row.counts.other + row.counts.photos ? 'begun' : 'open';
}

const WORDS: Record<string, string> = { damaged: 'damage found', cleared: 'walked', begun: 'begun', open: 'not yet' };

function plan(house: House): TemplateResult {
  const sides = house.places.filter((row) => WALLS[row.at.replace('elevation/', '')]);
  return html`<nav aria-label="sides of the house"><svg class="plan" viewBox="40 40 280 262">
    ${sides.map((row) => {
      const side = row.at.replace('elevation/', '');
      const wall = WALLS[side]!;
      return svg`<a href=${path('job', house.id, 'place', row.at)}><polygon class="wall ${state(row)}" points=${wall.points}></polygon>
        <text x=${wall.x} y=${wall.y} text-anchor="middle">${side}</text><text class="mark" x=${wall.x} y=${wall.y + 15} text-anchor="middle">${state(row) === 'cleared' ? '✓ walked' : row.counts.damaged ? `${row.counts.damaged} found` : WORDS[state(row)]}</text></a>`;
    })}
    <rect class="ridge" x="120" y="130" width="120" height="60"></rect>
    <text class="mark" x="180" y="164" text-anchor="middle">roof below</text>
    <text class="street" x="180" y="285" text-anchor="middle">street</text>
  </svg></nav>`;
}

function places(house: House, kind: string): TemplateResult {
  const rows = house.places.filter((row) => row.at.startsWith(`${kind}/`));
  return html`<ul class="rows">${rows.map((row) => html`<li><a class="row" href=${path('job', house.id, 'place', row.at)}>
    <span class="dot ${state(row)}"></span><span>${row.name}<small>${WORDS[state(row)]} · ${row.counts.photos} photos${row.counts.by_others ? html` · ${row.counts.by_others} by your partner` : nothing}</small></span>${icon('chevron-right')}</a></li>`)}</ul>`;
}

const STRUCTURES = ['fence', 'gate', 'shed', 'detached_garage', 'patio_cover', 'mailbox', 'equipment'];
const ROOMS = ['living room', 'kitchen', 'bedroom', 'bathroom', 'hall', 'attic', 'garage'];

const adding = (job: string, record: object, words: string) => async () => {
  const receipt = await add(job, record, words);
  if (receipt) go(`/job/${job}/place/${receipt.record}`);
};

function step(n: number, name: string, words: string, done: boolean, body: unknown): TemplateResult {
  return html`<section id="step-${name}" class="step ${done ? 'done' : ''}"><h2><span class="n">${done ? '✓' : n}</span>${words}</h2>${body}</section>`;
}

/** What a place counted of others' records when this phone last looked. */
const seenKey = (job: string) => `chalkwalk-seen-${job}`;
function newByOthers(house: House): { name: string; more: number; at: string }[] {
  const seen = JSON.parse(localStorage.getItem(seenKey(house.id)) ?? '{}') as Record<string, number>;
  return house.places.map((row) => ({ at: row.at, name: row.name, more: row.counts.by_others - (seen[row.at] ?? 0) })).filter((row) => row.more > 0);
}

/** What the other has done since the two phones last met and this one looked. */
function partner(house: House): TemplateResult | typeof nothing {
  const others = house.crew.filter((one) => !one.me);
  if (!others.length) return nothing;
  const names = others.map((one) => one.person).join(', ');
  const fresh = newByOthers(house);
  if (!fresh.length) return html`<p class="soft">Nothing new from ${names} since you looked.</p>`;
  const looked = () => {
    localStorage.setItem(seenKey(house.id), JSON.stringify(Object.fromEntries(house.places.map((row) => [row.at, row.counts.by_others]))));
    redraw();
  };
  return note('', html`<p><b>New from ${names}:</b> ${fresh.map((row, n) => html`${n ? ', ' : ''}<a href=${path('job', house.id, 'place', row.at)}>${row.name} (${row.more})</a>`)}</p><button @click=${looked}>Seen</button>`);
}

/** A question of the office, answered in words or by dictation, with a photo where one helps. */
function question(job: string, asked: RecordView): TemplateResult {
  const send = async (event: Event) => {
    event.preventDefault();
    const area = (event.target as HTMLFormElement).querySelector('textarea')!;
    if (area.value.trim()) await add(job, { answer: { question: asked.at, text: area.value.trim() } }, 'Answer');
  };
  const shown = ([photo]: string[]) => void add(job, { answer: { question: asked.at, text: 'See the photo.', photo } }, 'Answer');
  return html`<p>${String(asked.fields['text'] ?? '')}</p><form class="inline" @submit=${send}><textarea rows="2" aria-label="answer to the office"></textarea><button>Answer</button></form>
    ${camera(job, 'Answer with a photo', { place: String(asked.fields['about'] ?? '').startsWith('elevation/') ? String(asked.fields['about']) : 'elevation/front' }, { then: shown })}`;
}

export const house = (job: string, _step = '') => screen<House>({
  title: (data) => String(data.property?.['street'] ?? 'The house'),
  back: path(),
  load: async () => { app.house = await call('open', job); return app.house; },
  draw: (data) => {
    const one = (kind: string) => data.lists[kind]?.find((record) => !record.struck);
    const front = data.places.find((row) => row.at === 'elevation/front');
    const visit = one('visit');
    const sides = data.places.filter((row) => WALLS[row.at.replace('elevation/', '')]);
    const any = (kind: string) => data.places.some((row) => row.at.startsWith(`${kind}/`));
    const questions = (data.lists['question'] ?? []).filter((q) => !q.struck && !(data.lists['answer'] ?? []).some((a) => a.fields['question'] === q.at));
    return html`
      ${data.conflicts ? html`<a class="note bad" href=${path('job', job, 'settle')}><p><b>${data.conflicts} stated differently</b> by the two of you: choose which holds.</p></a>` : nothing}
      ${urgent()}
      ${questions.length ? html`<div id="step-questions">${note('warn', html`<p><b>The office asks:</b></p>${questions.map((q) => question(job, q))}`)}</div>` : nothing}
      ${partner(data)}
      ${step(1, 'arrive', 'Arrive', Boolean(front?.counts.overviews && visit), html`
        <p class="soft">The front first, before anything else: it parts this house from the last one.</p>
        ${camera(job, 'Front overview', { role: 'overview', place: 'elevation/front' }, { main: !front?.counts.overviews })}
        ${visit ? html`<p class="soft">Arrived ${time(Number(visit.fields['arrived_at']))}</p>` : html`<button @click=${() => add(job, { visit: { day: new Date().toLocaleDateString('sv'), arrived_at: Date.now() } }, 'Arrival')}>We are here</button>`}
        <a class="button" href=${path('job', job, 'owner')}>${icon('message-square')}<span>Ask the owner${Object.keys(one('interview')?.fields ?? {}).length ? ' ✓' : ''}</span></a>`)}
      ${step(2, 'inside', 'Inside', any('room'), html`${places(data, 'room')}
        <div class="chips">${ROOMS.map((name) => html`<button @click=${adding(job, { room: { name } }, name)}>+ ${name}</button>`)}</div>`)}
      ${step(3, 'sides', 'Walk the sides', sides.every((row) => row.fields['walked']), html`<p class="soft">Counter-clockwise: front, right, rear, left. Each from left to right.</p>${plan(data)}`)}
      ${step(4, 'lot', 'On the lot', any('structure'), html`${places(data, 'structure')}
        <div class="chips">${any('structure') ? nothing : html`<button @click=${() => add(job, { component: { component: 'fence_panel', condition: 'not_present' } }, 'No fence, shed or other structure')}>none here</button>`}${STRUCTURES.map((kind) => html`<button @click=${adding(job, { structure: { kind } }, kind.replace('_', ' '))}>+ ${kind.replace('_', ' ')}</button>`)}</div>`)}
      ${step(5, 'eave', 'Ladder at the eave', any('eave_opening'), html`${climb(data)}${places(data, 'eave_opening')}
        <div class="chips">${sides.map((row) => { const side = row.at.replace('elevation/', ''); return html`<button @click=${adding(job, { eave_opening: { side } }, `eave, ${side}`)}>+ eave, ${side}</button>`; })}</div>`)}
      ${step(6, 'roof', 'On the roof', any('slope'), html`${visit?.fields['cautions_read'] ? nothing : note('warn', html`<p><b>Read what stands at the ladder first.</b> Wet, icy, steep or windy: stay down.</p>`)}${places(data, 'slope')}
        <div class="chips">${sides.map((row) => { const side = row.at.replace('elevation/', ''); return html`<button @click=${adding(job, { slope: { side } }, `${side} slope`)}>+ ${side} slope</button>`; })}</div>
        ${camera(job, 'A full turn from the ridge', { role: 'panorama' }, { roll: true })}`)}
      ${step(7, 'check', 'Before you leave', Boolean(one('departure')), html`<a class="button main wide" href=${path('job', job, 'check')}>${icon('clipboard-check')}<span>What is missing?</span></a>`)}
      ${step(8, 'owner', 'Tell the owner', Boolean(one('signature')), html`<a class="button wide" href=${path('job', job, 'recap')}>${icon('pencil')}<span>Recap and signature</span></a>`)}
      ${step(9, 'off', 'Hand off', false, html`<a class="button wide" href=${path('job', job, 'safe')}>${icon('shield-check')}<span>What is safe, and export</span></a>
        <a class="button wide" href=${path('meet')}>${icon('users')}<span>Meet the other phone</span></a>`)}`;
  },
});

const ASKED: [string, string][] = [['interior_leaks', 'Leaks inside?'], ['may_climb', 'May we climb?']];
const KNOWN = [{ code: 'yes', label: 'yes' }, { code: 'no', label: 'no' }, { code: 'unknown', label: 'not known' }];
const SAID: [string, string][] = [['leak_details', 'Where, since when'], ['earlier_repairs', 'Earlier repairs'], ['earlier_claims', 'Earlier claims'], ['pets', 'Pets'], ['locked_gates', 'Locked gates']];

export const owner = (job: string) => screen<House>({
  title: () => 'Ask the owner',
  back: path('job', job),
  load: () => call('house', job),
  draw: (data) => {
    const record = data.lists['interview']?.[0];
    const set = (field: string, value: unknown) => act(job, { amend: { id: 'house', set: { interview: { [field]: value } } } }, 'Answer');
    const day = (event: Event) => { const value = (event.target as HTMLInputElement).value; if (value) void act(job, { amend: { id: 'house', set: { property: { date_of_loss: value } } } }, 'Day of the storm'); };
    return html`<div class="field"><label for="loss">Day of the storm</label><input id="loss" type="date" .value=${String(data.property?.['date_of_loss'] ?? '')} @change=${day}></div>
      ${ASKED.map(([field, words]) => html`<fieldset class="choice"><legend>${words}</legend><div class="chips">${KNOWN.map((word) => html`<button aria-pressed=${record?.fields[field] === word.code} @click=${() => set(field, word.code)}>${word.label}</button>`)}</div></fieldset>`)}
      <fieldset class="choice"><legend>Years since the roof was laid</legend><div class="chips">${[2, 5, 10, 15, 20, 25, 30].map((years) => html`<button aria-pressed=${record?.fields['roof_age_years'] === years} @click=${() => set('roof_age_years', years)}>${years}</button>`)}</div></fieldset>
      ${stepper('To the year', record?.fields['roof_age_years'] as number, (years) => void set('roof_age_years', years), 0, 99)}
      ${SAID.map(([field, words]) => html`<div class="field"><label for=${field}>${words}</label><textarea id=${field} rows="2" .value=${String(record?.fields[field] ?? '')} @change=${(event: Event) => set(field, (event.target as HTMLTextAreaElement).value)}></textarea></div>`)}
      <p class="soft">The phone's own dictation key writes here as well.</p>`;
  },
});
