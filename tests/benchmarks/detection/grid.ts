import { type RandomStream, randomStream } from '../../../src/simulate/random.js'
import { type Fault, type FaultKind, type Fleet, type FleetPoint, sizeFor, type WaterClass } from './fleet.js'

/** What goes wrong, as the table names it. */
export type Trouble = 'zero' | 'span' | 'fouling' | 'step' | 'common mode'

export const TROUBLES: readonly Trouble[] = ['zero', 'span', 'fouling', 'step', 'common mode']
export const S_VALUES = [2, 3, 5] as const
export const DAYS_TO_TOLERANCE = [15, 30, 90] as const
export const UNITS = [1, 2, 3] as const
export const GRABS_PER_DAY = [1, 2, 8] as const
/** Sound days before the earliest fault, and days watched after the tolerance is reached. */
const BEFORE_DAYS = 21
const AFTER_DAYS = 16
const FAULTS_PER_FLEET = 6

/** A standing bias is normal: what a sound unit has, tolerances. */
export const STANDING = { sd: 0.1, cut: 0.2 } as const
/** Size of a step, tolerances. */
export const STEP = { least: 0.8, most: 2 } as const
/** Days from the start between which faults set in, all alike. */
export const ONSET_DAYS = { first: BEFORE_DAYS, last: BEFORE_DAYS + 4 * FAULTS_PER_FLEET } as const
/** Waters in which a kind of fault is drawn: in clean water nobody ever sees a span error. */
export const WATERS_OF: Readonly<Record<FaultKind, readonly WaterClass[]>> = {
  zero: ['filter', 'settled', 'raw'],
  span: ['settled', 'raw'],
  fouling: ['filter', 'settled', 'raw'],
}

export interface FaultFleet extends Fleet {
  readonly s: number
  readonly daysToTolerance: number
}

/**
 * One fleet of the grid: six points with a fault each at different times, one redundant point without grab samples,
 * four sound points whose bottles tell a shift of the laboratory from a fault. Every 9 fleets of one s and one pace
 * hold each number of units with each rate of sampling six times.
 * @param round 0 and up  @param cell which s and pace, 0 to 8
 */
export function faultFleet(firstSeed: number, cell: number, round: number): FaultFleet {
  const s = S_VALUES[cell % 3]!
  const daysToTolerance = DAYS_TO_TOLERANCE[Math.floor(cell / 3)]!
  const seed = firstSeed + round * 9 + cell
  const random = randomStream(seed, 'grid')
  const points: FleetPoint[] = []
  for (let k = 0; k < FAULTS_PER_FLEET; k++) {
    const mix = (round * FAULTS_PER_FLEET + k) % 9
    const units = UNITS[mix % 3]!
    const grabsPerDay = GRABS_PER_DAY[Math.floor(mix / 3)]!
    const which = Math.floor((round * FAULTS_PER_FLEET + k) / 9) + mix + cell
    const trouble = TROUBLES[which % (units === 1 ? 4 : 5)]!
    points.push(faultyPoint(`F${String(k)}`, trouble, units, grabsPerDay, s, daysToTolerance, random, k))
  }
  points.push(faultyPoint('N0', 'zero', 2, 0, s, daysToTolerance, random, 0))
  for (let k = 0; k < 4; k++)
    points.push(soundPoint(`S${String(k)}`, k % 2 === 0 ? 'filter' : 'settled', 1, 2, s, random))
  return {
    seed,
    s,
    daysToTolerance,
    days: Math.ceil(BEFORE_DAYS + 4 * FAULTS_PER_FLEET + daysToTolerance + AFTER_DAYS),
    points,
    laboratory: [],
    storms: true,
    badBottles: 1 / 200,
  }
}

/** What a faulty point suffers from; a step and common mode are told from the fault itself. */
export function troubleOf({ unit, kind, shape }: Fault): Trouble {
  if (unit === 'all') return 'common mode'
  return shape === 'step' ? 'step' : kind
}

function faultyPoint(
  id: string,
  trouble: Trouble,
  units: number,
  grabsPerDay: number,
  s: number,
  daysToTolerance: number,
  random: RandomStream,
  k: number,
): FleetPoint {
  const kind = trouble === 'step' || trouble === 'common mode' ? (random.uniform() < 0.5 ? 'zero' : 'span') : trouble
  const waters = WATERS_OF[kind]
  const water = waters[Math.floor(random.uniform() * waters.length)]!
  const sign = kind === 'fouling' ? 1 : random.sign()
  const ofTolerance = trouble === 'step' ? random.between(STEP.least, STEP.most) : 1
  const shape = trouble === 'step' ? 'step' : kind === 'fouling' && random.uniform() < 0.5 ? 'growth' : 'ramp'
  const point = soundPoint(id, water, units, grabsPerDay, s, random)
  const fault: Fault = {
    unit: trouble === 'common mode' ? 'all' : Math.floor(random.uniform() * units),
    kind,
    shape,
    onsetDay: BEFORE_DAYS + 4 * k + random.between(0, 4),
    size: sign * sizeFor(point, kind, ofTolerance),
    daysToTolerance: trouble === 'step' ? 0 : daysToTolerance,
  }
  return { ...point, fault }
}

export function soundPoint(
  id: string,
  water: WaterClass,
  units: number,
  grabsPerDay: number,
  s: number,
  random: RandomStream,
): FleetPoint {
  const standing = Array.from({ length: units }, () => random.cutNormal(STANDING.sd, STANDING.cut))
  return { id, water, units, grabsPerDay, s, standing, fault: null, bubbles: null }
}

/** Ways in which nothing is wrong with any analyzer. */
export const SOUND = ['sound', 'laboratory 0.03 NTU high', 'standing bias of 0.2 tolerance'] as const
export type Sound = (typeof SOUND)[number]
export const SOUND_DAYS = 120
const LABORATORY_DAYS = 10

/** Fifteen analyzers at ten points, 4.93 analyzer-years, with storms, mismatch, bad bottles and bubbles. */
export function soundFleet(seed: number, sound: Sound): Fleet {
  const random = randomStream(seed, 'sound')
  const points: FleetPoint[] = []
  for (let k = 0; k < 10; k++) {
    const water = k < 6 ? 'filter' : k < 9 ? 'settled' : 'raw'
    const units = k === 1 ? 3 : k % 3 === 0 ? 2 : 1
    const point = soundPoint(
      `P${String(k)}`,
      water,
      k === 9 ? 1 : units,
      GRABS_PER_DAY[k % 3]!,
      S_VALUES[Math.floor(random.uniform() * 3)]!,
      random,
    )
    const fromDay = random.between(5, SOUND_DAYS - 15)
    points.push({
      ...point,
      standing: sound === SOUND[2] ? point.standing.map(() => 0.2 * random.sign()) : point.standing,
      bubbles:
        k % 4 === 0 ? { fromDay, toDay: fromDay + random.between(2, 8), share: random.between(0.05, 0.2) } : null,
    })
  }
  const shifts = [random.between(24, 36), random.between(76, 88)]
  return {
    seed,
    days: SOUND_DAYS,
    points,
    laboratory:
      sound === SOUND[1] ? shifts.map(fromDay => ({ fromDay, toDay: fromDay + LABORATORY_DAYS, ntu: 0.03 })) : [],
    storms: true,
    badBottles: 1 / 200,
  }
}
