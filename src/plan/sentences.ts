import type { StatusData } from '../model/events.js'
import type { LocalSpan } from '../model/localCalendar.js'
import { MINUTE_MS, sayDay } from '../model/time.js'
import { offsetMinutes } from '../model/timeZone.js'
import { listWords, sayNtu } from '../recommend/summary.js'
import type { Due } from './dueDates.js'
import type { Proof } from './visitPlan.js'

const LONGEST = 240

/** "Mon 4 May 2026, 13:00 to 17:00" on the clocks of the zone. */
export function sayWindow(zone: string, { fromMs, toMs }: LocalSpan): string {
  const [from, to] = [onTheWall(zone, fromMs), onTheWall(zone, toMs)]
  const clock = (wallMs: number): string => new Date(wallMs).toISOString().slice(11, 16)
  const until = sayDay(from) === sayDay(to) ? clock(to) : `${sayWeekday(to)}, ${clock(to)}`
  return `${sayWeekday(from)}, ${clock(from)} to ${until}`
}

/** "Mon 4 May 2026" on the calendar of the zone. */
export function sayLocalDay(zone: string, atMs: number): string {
  return sayWeekday(onTheWall(zone, atMs))
}

function onTheWall(zone: string, atMs: number): number {
  return atMs + offsetMinutes(zone, atMs) * MINUTE_MS
}

const WEEKDAYS = ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'] as const

function sayWeekday(wallMs: number): string {
  return `${WEEKDAYS[new Date(wallMs).getUTCDay()]!} ${sayDay(wallMs)}`
}

/** "92 grabs and FE3-B put its bias at -0.004 to 0.006 NTU (tolerance 0.05 NTU)" */
export function sayProof({ lines, ci95: [low, high], toleranceNtu }: Proof): string {
  const words = [...new Set(lines.map(sayLine))]
  const isOne = words.length === 1 && !words[0]!.endsWith('s') && !words[0]!.includes(' and ')
  return `${listWords(words)} ${isOne ? 'puts' : 'put'} its bias at ${sayNtu(low)} to ${sayNtu(high)} NTU (tolerance ${sayNtu(toleranceNtu)} NTU)`
}

function sayLine({ line, against, n }: Proof['lines'][number]): string {
  switch (line) {
    case 'grab':
      return counted(n, 'grab')
    case 'redundant':
      return against
    case 'verification':
      return counted(n, 'verification')
    case 'related':
      return 'the related points'
    case 'clean_water_floor':
      return 'its clean-water floor'
    case 'diagnostics':
      return 'its diagnostics'
  }
}

/** What is due, why it is due although the evidence is good, and when. @param isPast its date lies before plant time */
export function visitSentence(
  analyzer: string,
  due: Due,
  proof: Proof | undefined,
  when: string,
  isPast: boolean,
): string {
  const visit = `: visit on ${when} local time${isPast ? ' (past its date)' : ''}.`
  const though = proof === undefined ? [''] : [`, though ${sayProof(proof)}`, `, though ${sayBriefly(proof)}`, '']
  const candidates = [due.text, due.brief].flatMap(text => though.map(good => `${analyzer}: ${text}${good}${visit}`))
  return candidates.find(text => text.length <= LONGEST) ?? candidates.at(-1)!
}

function sayBriefly({ ci95: [low, high] }: Proof): string {
  return `its evidence is good (bias ${sayNtu(low)} to ${sayNtu(high)} NTU)`
}

/** @param dates the date by rule that stays; the habitual one that may be passed over, such as "of 7 June" */
export function leaveSentence(
  analyzer: string,
  proof: Proof,
  dates: { readonly rule: string | undefined; readonly habit: string | undefined },
): string {
  const rule = dates.rule === undefined ? 'no rule asks for it' : `its date by rule, ${dates.rule}, stays`
  const habit = dates.habit === undefined ? '' : `, so the visit by habit ${dates.habit} can be saved`
  const said = (good: string): string =>
    `${analyzer} may be left alone while this holds: ${good}; ${rule}${habit}; go on with what shows it.`
  const full = said(sayProof(proof))
  return full.length <= LONGEST ? full : said(sayBriefly(proof))
}

export function notProvenSentence(analyzer: string, status: StatusData | undefined, days: number): string {
  const assessment = (status?.assessment ?? 'not_assessed').replaceAll('_', ' ')
  const lacks = status === undefined ? 'no block has been worked through yet' : status.missing[0]
  const why = lacks === undefined ? '' : `: ${lacks}`
  const text = `${analyzer} is ${assessment}${why}; nothing is due within ${String(days)} days, but nothing may wait longer for it either.`
  return text.length <= LONGEST ? text : `${analyzer} is ${assessment}; nothing is due within ${String(days)} days.`
}

function counted(n: number, word: string): string {
  return `${String(n)} ${word}${n === 1 ? '' : 's'}`
}
