import { DAY_MS, HOUR_MS, MINUTE_MS } from '../model/time.js'
import { type Backwash, servesAt } from './filterRuns.js'
import { classOf, GRAB_TIME_UNCERTAINTY_S, POINTS, REPORTING_LIMIT_NTU, type SitePoint } from './hollinWeir.js'
import { randomStream } from './random.js'
import type { Scenario, Storm } from './scenario.js'
import { levelAt, type Water } from './water.js'

/** One result of the laboratory. `actualMs` is when the bottle was filled, `sampledMs` what its label says. */
export interface BottleResult {
  readonly point: string
  readonly sampleId: string
  readonly actualMs: number
  readonly sampledMs: number
  readonly analysedMs: number
  readonly reportedMs: number
  readonly value: number | string
}

/** All results of the run in order of the label's time. */
export function drawBottles(
  seed: number,
  startMs: number,
  endMs: number,
  water: Water,
  scenario: Scenario,
  backwashes: readonly Backwash[],
): readonly BottleResult[] {
  // One instrument, one calibration: the same share of the declared shared uncertainty everywhere, for the whole run.
  const shared = randomStream(seed, 'laboratory:shared').cutNormal(0.5, 1)
  const bottles = POINTS.flatMap(point => {
    const random = randomStream(seed, `laboratory:${point.id}`)
    const { standardUncertaintyNtu, relative, sharedStandardUncertaintyNtu, perNtu } = classOf(point.id).laboratory
    const clockSdS = random.between(0.5, 0.9) * GRAB_TIME_UNCERTAINTY_S
    return rounds(seed, point, startMs, endMs, scenario, backwashes).map(actualMs => {
      const labelMs = actualMs + random.cutNormal(clockSdS, 2.5 * clockSdS) * 1_000
      const sampledMs = Math.round(labelMs / MINUTE_MS) * MINUTE_MS
      const analysedMs = sampledMs + Math.round(random.between(20, 50)) * MINUTE_MS
      const reportedMs = sampledMs + Math.round(random.between(61, 239)) * MINUTE_MS
      const truth = levelAt(water, point.id, actualMs)
      const spread = Math.sqrt(standardUncertaintyNtu * standardUncertaintyNtu + relative * relative * truth * truth)
      let read = truth + shared * sharedStandardUncertaintyNtu + spread * random.normal()
      if (analysedMs >= scenario.laboratory.onsetMs && analysedMs < scenario.laboratory.endMs) {
        read = read * (1 + scenario.laboratory.relative) + scenario.laboratory.offsetNtu
      }
      return { point: point.id, actualMs, sampledMs, analysedMs, reportedMs, value: Math.round(read * perNtu) / perNtu }
    })
  })
  bottles.sort((a, b) => a.sampledMs - b.sampledMs || (a.point < b.point ? -1 : 1))
  const bad = badBottle(bottles, scenario)
  return bottles.map((bottle, index) => ({
    ...bottle,
    sampleId: `W${String(index + 1).padStart(4, '0')}`,
    value: bottle === bad ? scenario.badGrab.valueNtu : reportedValue(bottle.value),
  }))
}

/** The bottle that was filled with something else. */
export function badBottle<B extends Pick<BottleResult, 'point' | 'actualMs'>>(
  bottles: readonly B[],
  scenario: Scenario,
): B | undefined {
  return bottles.find(bottle => bottle.point === 'CFE' && bottle.actualMs >= scenario.badGrab.notBeforeMs)
}

function reportedValue(value: number): number | string {
  return value < REPORTING_LIMIT_NTU ? `<${REPORTING_LIMIT_NTU}` : value
}

/** Times at which bottles are really filled. A filter that is being washed or ripens is sampled later. */
function rounds(
  seed: number,
  point: SitePoint,
  startMs: number,
  endMs: number,
  scenario: Scenario,
  backwashes: readonly Backwash[],
): readonly number[] {
  const random = randomStream(seed, `rounds:${point.id}`)
  const times: number[] = []
  const habit = point.grabs
  if (habit === undefined) return times
  if ('everyH' in habit) {
    for (let at = startMs + random.between(1, 4) * HOUR_MS; at < endMs; at += random.between(...habit.everyH) * HOUR_MS)
      times.push(at)
  } else {
    for (let day = startMs; day < endMs; day += DAY_MS) {
      for (const hour of habit.roundsAtH) times.push(day + (hour + random.between(-0.75, 0.75)) * HOUR_MS)
    }
  }
  if (point.id === 'RW') times.push(steepMs(scenario.storms[0]!))
  return times
    .map(at => {
      let later = at
      while (!servesAt(backwashes, point.id, later)) later += 10 * MINUTE_MS
      return Math.round(later / 1_000) * 1_000
    })
    .filter(at => at >= startMs + 30 * MINUTE_MS && at < endMs - 5 * HOUR_MS)
    .sort((a, b) => a - b)
}

/** The duty chemist goes out while the river rises: half way up, where it is steepest. */
export function steepMs(storm: Storm): number {
  return storm.startMs + storm.riseMs / 2
}
