import { formatInstant, HOUR_MS, sayDuration, sayInstant } from '../model/time.js'
import { roundTo } from '../model/rounding.js'
import { listWords } from '../recommend/summary.js'
import type { FindingDetail } from './findingDetail.js'
import type { PlantState, ToldFinding } from './plantState.js'

/** Names that are listed in a sentence; the others are counted, and all stand in the detail. */
const NAMED = 3

/** What there is to say of a finding that belongs to no point: a feed that is down, many analyzers silent together. */
export function plantDetail(state: PlantState, one: ToldFinding, nowMs: number): FindingDetail {
  if (one.feed === undefined) return silenceDetail(one, nowMs)
  const n = [...state.points.values()].flatMap(point => point.analyzers.filter(own => own.feed === one.feed)).length
  return {
    values: { analyzers: n },
    what: `The feed ${one.feed} is down since ${sayInstant(one.sinceMs)}; its ${String(n)} ${n === 1 ? 'analyzer is' : 'analyzers are'} not called silent meanwhile`,
  }
}

/** @param isSilent whether an analyzer of it is still not heard */
export function plantEnded(one: ToldFinding, nowMs: number, isSilent: (analyzer: string) => boolean): FindingDetail {
  const age = sayDuration(nowMs - one.sinceMs)
  if (one.feed !== undefined)
    return {
      values: {},
      what: `The feed ${one.feed} is no longer down; it was since ${sayInstant(one.sinceMs)} (${age})`,
    }
  const analyzers = one.analyzers ?? []
  const silent = analyzers.filter(isSilent)
  const back = `${String(analyzers.length - silent.length)} of ${String(analyzers.length)} analyzers are heard again`
  return {
    values: { analyzers: analyzers.join(' '), stillSilent: silent.join(' ') },
    what: `${back} ${age} after they fell silent together on ${sayInstant(one.sinceMs)}`,
  }
}

function silenceDetail({ analyzers = [], sinceMs }: ToldFinding, nowMs: number): FindingDetail {
  const named = analyzers.slice(0, NAMED)
  const others = analyzers.length - named.length
  const who = others > 0 ? `${named.join(', ')} and ${String(others)} more` : listWords(named)
  return {
    values: {
      hours: roundTo((nowMs - sinceMs) / HOUR_MS, 1),
      analyzers: analyzers.join(' '),
      since: formatInstant(sinceMs),
    },
    what: `${String(analyzers.length)} analyzers fell silent together on ${sayInstant(sinceMs)} (${who})`,
  }
}
