import type { FindingData } from '../model/events.js'
import type { Plant } from '../model/plant.js'
import { formatInstant } from '../model/time.js'
import type { FindingKind } from '../model/vocabulary.js'
import { blindnessDetail, commonBlindness } from './commonBlindness.js'
import { pointContext } from './context.js'
import { type FindingDetail, findingDetail } from './findingDetail.js'
import { endedDetail } from './findingEnded.js'
import { plantDetail, plantEnded } from './plantFindings.js'
import type { PlantState, ToldFinding } from './plantState.js'

/** The body of an event about a finding, as it stands now. @param subject analyzer, point, feed or plant */
export function findingData(
  state: PlantState,
  plant: Plant,
  subject: string,
  one: ToldFinding,
  phase: FindingData['phase'],
  nowMs: number,
): FindingData {
  const { finding, sinceMs, analyzer, point, feed } = one
  const own = detailOf(state, plant, one, phase, nowMs)
  const blindness =
    finding === 'no_usable_unit' && phase !== 'ended' ? commonBlindness(state, plant, point ?? '', sinceMs) : undefined
  const { values, what, advice } =
    blindness === undefined ? own : blindnessDetail(blindness, own, sinceMs, nowMs - plant.latenessMs)
  const next = phase === 'ended' ? AFTERWARDS[finding] : (advice ?? ADVICE[finding] ?? ADVICE_OF_OTHERS)
  return {
    summary: `${feed === undefined ? `${subject}: ` : ''}${what}${next === undefined ? '' : `; ${next}`}.`,
    notify:
      finding === 'no_usable_unit' && phase === 'began' && blindness?.isTold !== true ? 'at_once' : 'shift_summary',
    ...(analyzer === null ? {} : { analyzer }),
    ...(point === null ? {} : { point }),
    finding,
    phase,
    since: formatInstant(sinceMs),
    ...(phase === 'ended' ? { until: formatInstant(nowMs) } : {}),
    detail: { ...values },
  }
}

function detailOf(
  state: PlantState,
  plant: Plant,
  one: ToldFinding,
  phase: FindingData['phase'],
  nowMs: number,
): FindingDetail {
  const registered = plant.points.get(one.point ?? '')
  const point = state.points.get(one.point ?? '')
  if (registered === undefined || point === undefined)
    return phase === 'ended' ? plantEnded(one, nowMs, id => isSilent(state, plant, id)) : plantDetail(state, one, nowMs)
  const place = {
    context: pointContext(plant, registered, state.laboratory.intervals),
    state: point,
    unit: one.analyzer === null ? null : registered.analyzers.indexOf(one.analyzer),
    sinceMs: one.sinceMs,
    endMs: nowMs - plant.latenessMs,
  }
  return phase === 'ended' ? endedDetail(one.finding, place) : findingDetail(one.finding, place)
}

function isSilent(state: PlantState, plant: Plant, analyzer: string): boolean {
  const registered = plant.points.get(plant.analyzers.get(analyzer)?.point ?? '')
  const i = registered?.analyzers.indexOf(analyzer) ?? -1
  return state.points.get(registered?.id ?? '')?.fold.units[i]?.findings.silent !== undefined
}

/** Why it matters and what to do about it. */
const ADVICE: Partial<Record<FindingKind, string>> = {
  stuck:
    'longer than its own habit explains, so nothing is learnt from it: compare the display with the recorded value, then check output and gateway',
  silent: 'nothing is known of it meanwhile: check power, output and gateway',
  bubbles: 'the level cannot be told between them: look at degassing, pressure and flow',
  erratic:
    'water does not do that, so take no single value for the level: look for air, a moving film or weed, and a loose contact',
  no_flow:
    'the sample stands in the cell, so its readings do not count: restore the flow by site procedure and let it settle before use',
  beyond_range: 'that is a held number and no value: take a grab sample and see which way the water went',
  bad_quality: 'its readings do not count: find out at the source why, then check the signal path',
  exact_factor:
    'water does not do that and no work is on record, so do not use them: compare the display with the record, then check scaling',
  display_differs:
    'the fault is in the signal path, so the recorded values are not to be used: check range and scaling on both sides',
  comes_late: 'a drift would not follow the water: look at its sample flow, its line and its damping',
  follows_daylight: 'light falls in and adds by day: look at cover and shade; its night values stand',
  maintenance_forgotten: 'it is not watched meanwhile: end maintenance if the work is done',
  returned_unsettled:
    'nothing of it counts until it stands still: look for bubbles, flow and a film of air in the cell',
  did_not_settle: 'its readings count again, with care: look for bubbles and flow before trusting them',
  methods_differ: 'declare a site correlation in the register',
  gross_difference: 'the charts decide which is wrong: take a grab sample before trusting one',
  not_in_service_inferred:
    'no process state came, so nothing counts until 1 h after it is down: send process states to be sure',
  many_silent:
    'one cause is likely: check network, gateway and power before any analyzer; what a gateway kept is taken at its own time',
  feed_down: 'their readings may be on their way: check broker and network',
  no_usable_unit: 'start manual sampling as the local rule requires: restore the quickest unit',
}

const ADVICE_OF_OTHERS = 'the readings do not count until it is over: look for its cause'

/** What to mind once it is over. */
const AFTERWARDS: Partial<Record<FindingKind, string>> = {
  many_silent: 'readings that were kept are taken at their own time',
  no_usable_unit: 'manual sampling ends as the local rule says',
}
