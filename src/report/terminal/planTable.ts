import type { Bring, Visit, VisitPlan } from '../../plan/visitPlan.js'
import { parseInstant, sayDay } from '../../model/time.js'
import { sayWindow } from '../../plan/sentences.js'
import { sayTime } from '../say.js'
import { DEFERENCE_TEXT } from '../words.js'
import { type TextRow, textTable } from './textTable.js'
import { COLUMNS, wrapText } from './wrap.js'

const VISIT_COLUMNS = [
  { head: 'Window', width: 16 },
  { head: 'Area', width: 16 },
  { head: 'Analyzer', width: 10 },
  { head: 'By', width: 12 },
  { head: 'Bring', width: 30 },
]

/** What the table goes by, for its readers. */
const PLAN_NOTE =
  'Dates required by rule are due whatever the charts say. Windows are half days on the clocks of the plant, Monday to ' +
  'Friday; holidays and crew are not known. ' +
  'Never two units of one point in one window.'

/** The visits of the days ahead, who may be left alone and on what proof, and who is not proven. At most 100 columns wide. */
export function renderPlanTable(plan: VisitPlan): string {
  const { at, days, visits, leaveAlone, notProven, requests } = plan
  return [
    at === null ? 'No plant time yet' : `As of ${sayTime(at)}, the next ${String(days)} days`,
    ...block(
      'VISITS',
      visits.length === 0
        ? 'No visit falls into these days.'
        : textTable(
            VISIT_COLUMNS,
            visits.flatMap(visit => visitRows(visit, plan.timeZone)),
          ),
    ),
    ...(visits.length === 0 ? [] : [wrapText(crew(plan), COLUMNS), ...cautions(plan)]),
    ...list('NO VISIT TO ONE ANALYZER, YET ASKED FOR', requests),
    ...block('LEFT ALONE', leaveAlone.length === 0 ? 'Nobody: no evidence is good enough.' : lines(leaveAlone)),
    ...list('NOT PROVEN', notProven),
    '',
    wrapText(PLAN_NOTE, COLUMNS),
    wrapText(DEFERENCE_TEXT, COLUMNS),
    '',
  ].join('\n')
}

/** Window, place, date and standards, and below them why, what else, and who stays in service. */
function visitRows(visit: Visit, timeZone: string): TextRow[] {
  const { window, area, analyzer, serial, jobs, later, bring, meanwhile, late, by, summary } = visit
  const more = [
    ...jobs.slice(1).map(job => `With it: ${job.text}, by ${dayOf(job.by)}.`),
    ...later.map(job => `Later: ${job.text}, by ${dayOf(job.by)}.`),
    `Meanwhile ${meanwhile}.`,
  ]
  return [
    [
      sayWindow(timeZone, { fromMs: Date.parse(window.from), toMs: Date.parse(window.to) }),
      area ?? '',
      serial === undefined ? analyzer : `${analyzer} (${serial})`,
      `${dayOf(by)}${late ? ' (due)' : ''}`,
      bring.length === 0 ? 'no standard' : bring.map(sayBring).join('; '),
    ],
    [summary, ...more].join(' '),
  ]
}

function sayBring({ type, id, assignedNtu, lot, expires, note }: Bring): string {
  const parts = [
    ...(assignedNtu === undefined ? [] : [`${String(assignedNtu)} NTU`]),
    ...(lot === undefined ? [] : [`lot ${lot}`]),
    ...(id === undefined || type === 'zero_water'
      ? []
      : [expires === undefined ? 'no expiry known' : `expires ${expires}`]),
    ...(note === undefined ? [] : [note]),
  ]
  return `${type.replaceAll('_', ' ')}${id === undefined ? '' : ` ${id}`}${parts.length === 0 ? '' : ` (${parts.join(', ')})`}`
}

function crew({ byDay, visitMinutes, savable }: VisitPlan): string {
  const perDay = byDay.map(({ date, minutes }) => `${date} ${String(minutes)} min`).join('; ')
  const saved = savable === 1 ? '1 habitual visit' : `${String(savable)} habitual visits`
  return `Time at the analyzers, ${String(visitMinutes)} min a visit: ${perDay}. ${saved} in these days can be saved.`
}

function cautions(plan: VisitPlan): readonly string[] {
  return block('CAUTIONS AT EVERY VISIT', plan.cautions.map(caution => wrapText(`- ${caution}`, COLUMNS)).join('\n'))
}

function list(title: string, all: readonly { readonly summary: string }[]): readonly string[] {
  return all.length === 0 ? [] : block(title, lines(all))
}

function block(title: string, text: string): readonly string[] {
  return ['', title, text]
}

function lines(all: readonly { readonly summary: string }[]): string {
  return all.map(({ summary }) => wrapText(summary, COLUMNS)).join('\n')
}

/** The day on which, or with the end of which, something is due. */
function dayOf(by: string): string {
  const atMs = parseInstant(by)
  return atMs === undefined ? by : sayDay(atMs - 1)
}
