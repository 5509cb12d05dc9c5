import type { RecordedInput } from '../../../src/model/recordedInput.js'
import { registerMessage } from '../../../src/core/registerInput.js'
import { DAY_MS, formatInstant, MINUTE_MS } from '../../../src/model/time.js'
import { toleranceAt } from '../../../src/model/tolerance.js'
import { autoregression } from '../../../src/simulate/autoregression.js'
import { randomStream } from '../../../src/simulate/random.js'
import { exp, ln } from '../../../src/statistics/distributions.js'
import {
  dayOf,
  type Fleet,
  type FleetPoint,
  fleetRegister,
  MISMATCH,
  SHARED_NTU,
  START_MS,
  trueBiasNtu,
  unitId,
  WATER,
} from './fleet.js'

const BLOCK_MS = 15 * MINUTE_MS
/** Spread of one reading and of the water over a quarter of an hour. */
const NOISE = { ofTolerance: 0.03, quick: 0.02, quickHours: 0.75, slow: 0.12, slowDays: 5 } as const
const BUBBLE_NTU = 0.15

/**
 * What a fleet sends, in order of arrival: one reading a quarter of an hour, results at once (that late ones end in the
 * same state is the tests' business).
 */
export function* fleetInputs(fleet: Fleet): Generator<RecordedInput> {
  yield { feed: 'service', message: registerMessage(fleetRegister(fleet)) }
  const sharedNtu = SHARED_NTU * randomStream(fleet.seed, 'laboratory').cutNormal(0.5, 1)
  const storm = stormAt(fleet)
  const sources = fleet.points.map(point => startPoint(fleet, point, sharedNtu))
  for (let block = 0; block < (fleet.days * DAY_MS) / BLOCK_MS; block++) {
    const atMs = START_MS + block * BLOCK_MS + BLOCK_MS / 2
    for (const source of sources) {
      const { readings, grab } = source(atMs, storm(atMs))
      yield* readings
      if (grab !== undefined) yield grab
    }
    yield {
      feed: 'clock',
      message: { kind: 'tick', time: formatInstant(START_MS + (block + 1) * BLOCK_MS + 3 * MINUTE_MS) },
    }
  }
}

/** Rises in a few hours and dies away within a day, about once in three weeks; multiplies the level. */
function stormAt(fleet: Fleet): (atMs: number) => number {
  if (!fleet.storms) return () => 1
  const random = randomStream(fleet.seed, 'storms')
  const storms: { readonly day: number; readonly size: number }[] = []
  for (let day = random.between(2, 21); day < fleet.days; day += random.between(10, 32)) {
    storms.push({ day, size: random.between(1, 4) })
  }
  return atMs => {
    const day = dayOf(atMs)
    let factor = 1
    for (const storm of storms) {
      const hours = (day - storm.day) * 24
      if (hours > 0 && hours < 120) factor += storm.size * (hours < 4 ? hours / 4 : exp(-(hours - 4) / 16))
    }
    return factor
  }
}

function startPoint(
  fleet: Fleet,
  point: FleetPoint,
  sharedNtu: number,
): (atMs: number, storm: number) => { readings: RecordedInput[]; grab: RecordedInput | undefined } {
  const { usualNtu, tolerance, laboratory } = WATER[point.water]
  const stepS = BLOCK_MS / 1_000
  const water = randomStream(fleet.seed, `water ${point.id}`)
  const slow = autoregression(water, NOISE.slow, NOISE.slowDays * 86_400, stepS)
  const quick = autoregression(water, NOISE.quick, NOISE.quickHours * 3_600, stepS)
  const units = Array.from({ length: point.units }, (_, unit) => {
    const random = randomStream(fleet.seed, `unit ${unitId(point, unit)}`)
    const mismatch = autoregression(random, MISMATCH.sd, MISMATCH.correlationDays * 86_400, stepS)
    return { id: unitId(point, unit), random, mismatch }
  })
  const bottle = randomStream(fleet.seed, `bottles ${point.id}`)
  let nextGrabMs = point.grabsPerDay > 0 ? START_MS + (bottle.uniform() * DAY_MS) / point.grabsPerDay : Infinity
  let samples = 0

  return (atMs, storm) => {
    const day = dayOf(atMs)
    const levelNtu = usualNtu * exp(slow() + quick()) * (point.water === 'filter' ? 1 + (storm - 1) * 0.2 : storm)
    const readings = units.map(({ id, random, mismatch }, unit) => {
      const noise = (mismatch() + NOISE.ofTolerance * random.normal()) * toleranceAt(tolerance, levelNtu)
      let ntu = levelNtu + trueBiasNtu(point, unit, day, levelNtu) + noise
      const { bubbles } = point
      const raised = random.uniform()
      const height = -BUBBLE_NTU * ln(1 - random.uniform())
      if (bubbles !== null && day >= bubbles.fromDay && day < bubbles.toDay && raised < bubbles.share)
        ntu += 0.05 + height
      const value = Math.round(ntu * 1_000) / 1_000
      return {
        feed: 'fleet',
        message: { kind: 'reading', analyzer: id, time: formatInstant(atMs), value, unit: 'NTU' },
      }
    })
    if (atMs < nextGrabMs) return { readings, grab: undefined }
    nextGrabMs += (DAY_MS / point.grabsPerDay) * bottle.between(0.8, 1.2)
    samples += 1
    const spread =
      Math.sqrt(laboratory[0] * laboratory[0] + laboratory[1] * laboratory[1] * levelNtu * levelNtu) / point.s
    const shift = fleet.laboratory.find(one => day >= one.fromDay && day < one.toDay)?.ntu ?? 0
    let found = levelNtu + sharedNtu + shift + spread * bottle.normal()
    if (bottle.uniform() < fleet.badBottles) found += bottle.between(3, 10) * toleranceAt(tolerance, levelNtu)
    const grab = {
      feed: 'laboratory',
      message: {
        kind: 'grab',
        point: point.id,
        sampled: formatInstant(atMs),
        value: Math.round(Math.max(0, found) * 10_000) / 10_000,
        unit: 'NTU',
        sampleId: `${point.id}-${String(samples)}`,
      },
    }
    return { readings, grab }
  }
}
