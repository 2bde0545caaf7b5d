// What is missing before the crew leaves; each line leads to where it is settled.
import { html, nothing } from 'lit-html';
import { call } from '../client';
import { icon } from '../parts-of-page';
import { add } from '../record';
import { go } from '../state';
import { path, screen } from '../screen';
import type { House, OpenPoint } from '../shapes';
import { leadsTo } from './leads';

const HEADS = { must: 'Do before you leave', should: 'The office will ask', consider: 'Worth a thought' } as const;

type Data = { points: OpenPoint[]; house: House };

export const check = (job: string) => screen<Data>({
  title: () => 'Before you leave',
  back: path('job', job),
  load: async () => ({ points: await call('check', job), house: await call('house', job) }),
  draw: ({ points, house }) => {
    const must = points.filter((one) => one.point.urgency === 'must' && !one.point.office_can_settle);
    const visit = house.lists['visit']?.find((one) => !one.struck)?.at;
    const left = house.lists['departure']?.some((one) => !one.struck);
    const leave = async () => {
      const known_open = must.map((one) => one.point.sentence).join(' ').slice(0, 4_000);
      const made = await add(job, { departure: { ...(visit ? { visit } : {}), ...(known_open ? { known_open } : {}) } }, 'Left the site');
      if (made) go(`/job/${job}/safe`);
    };
    return html`
      <p class="count-line"><b>${must.length}</b> to do here${points.length > must.length ? html`, ${points.length - must.length} more for later` : nothing}</p>
      ${(['must', 'should', 'consider'] as const).map((urgency) => {
        const list = points.filter((one) => one.point.urgency === urgency);
        return list.length ? html`<h2>${HEADS[urgency]}</h2><ul class="rows">${list.map((one) => html`<li><a class="row ${urgency}" href=${leadsTo(job, one)}><span>${one.point.sentence}<small>${one.point.settles} <i>${one.point.why}</i>${one.point.office_can_settle ? ' The office can settle it.' : ''}</small></span>${icon('chevron-right')}</a></li>`)}</ul>` : nothing;
      })}
      ${points.length ? nothing : html`<p class="note good">Nothing is missing that the record can know of.</p>`}
      ${left ? html`<p class="note good">You left the site. What came before is sealed; what you add now comes after it.</p>` : html`<button class="wide ${must.length ? 'risky' : 'main'}" @click=${leave}>${must.length ? 'Leave all the same: the open points are written down' : 'Leave the site: seal the visit'}</button>`}`;
  },
});
