import type { RegisterFile } from '../../../src/model/register.js'
import { DAY_MS } from '../../../src/model/time.js'
import { toleranceAt, type Tolerance } from '../../../src/model/tolerance.js'
import { effectAt, shareAt, type Shape } from '../../../src/diagnose/hypothesis.js'

/**
 * Plants for judging, described in the quantities the verdict depends on: how good a pair is, how many there are, how
 * many units stand at a point, what goes wrong and how fast. The invented plant of `src/simulate` shows the job; these
 * fill a grid.
 */
export interface Fleet {
  readonly seed: number
  readonly days: number
  readonly points: readonly FleetPoint[]
  /** Error of the laboratory instrument common to all results, NTU, by day from the start. */
  readonly laboratory: readonly { readonly fromDay: number; readonly toDay: number; readonly ntu: number }[]
  readonly storms: boolean
  /** Share of bottles filled with something else. */
  readonly badBottles: number
}

export interface FleetPoint {
  readonly id: string
  readonly water: WaterClass
  /** Analyzers at the point. */
  readonly units: number
  readonly grabsPerDay: number
  /** Tolerance over the standard uncertainty of one laboratory result. */
  readonly s: number
  /** Standing bias of each unit, tolerances. */
  readonly standing: readonly number[]
  readonly fault: Fault | null
  /** Days during which bubbles pass, and the share of readings they raise. */
  readonly bubbles: { readonly fromDay: number; readonly toDay: number; readonly share: number } | null
}

export type FaultKind = 'zero' | 'span' | 'fouling'

export interface Fault {
  readonly unit: number | 'all'
  readonly kind: FaultKind
  readonly shape: Shape
  readonly onsetDay: number
  /** Size after `daysToTolerance` for what grows, at once for a step: NTU, or a fraction for a span error. */
  readonly size: number
  /** Days from onset until the bias reaches the tolerance at the usual level; 0 for a step. */
  readonly daysToTolerance: number
}

export type WaterClass = 'filter' | 'settled' | 'raw'

/** Usual level and tolerance; the laboratory's random part times s: fixed, and as a share of the level. */
export const WATER: Readonly<Record<WaterClass, WaterHabit>> = {
  filter: { usualNtu: 0.08, tolerance: { absoluteNtu: 0.05, relative: 0.1 }, laboratory: [0.05, 0] },
  settled: { usualNtu: 2, tolerance: { absoluteNtu: 0.05, relative: 0.1 }, laboratory: [0.01, 0.1] },
  raw: { usualNtu: 25, tolerance: { absoluteNtu: 1, relative: 0.1 }, laboratory: [0.2, 0.1] },
}

interface WaterHabit {
  readonly usualNtu: number
  readonly tolerance: Tolerance
  readonly laboratory: readonly [number, number]
}

/** Standard deviation of the slow difference between the water in the cell and at the point, tolerances, and its time. */
export const MISMATCH = { sd: 0.065, correlationDays: 1.5 } as const
/** Shared error of the laboratory as the register declares it, shares of the tolerance of clean water. */
export const SHARED_NTU = 0.01
export const START_MS = Date.UTC(2026, 0, 1)

export function unitId(point: FleetPoint, unit: number): string {
  return `${point.id}-${String.fromCharCode(65 + unit)}`
}

export function usualTolerance(point: FleetPoint): number {
  const { tolerance, usualNtu } = WATER[point.water]
  return toleranceAt(tolerance, usualNtu)
}

/** Size of a fault that makes a bias of so many tolerances at the usual level; negative pulls readings down. */
export function sizeFor(point: Pick<FleetPoint, 'water'>, kind: FaultKind, ofTolerance: number): number {
  const { tolerance, usualNtu } = WATER[point.water]
  const effect = effectAt(kind, usualNtu)
  return (ofTolerance * toleranceAt(tolerance, usualNtu)) / (kind === 'fouling' ? Math.abs(effect) : effect)
}

/** How much of the fault's size is there: 1 after `daysToTolerance`, and on from there. */
export function faultShare(fault: Fault, day: number): number {
  if (fault.shape === 'step') return day > fault.onsetDay ? 1 : 0
  return shareAt(fault.shape, fault.onsetDay, fault.onsetDay + fault.daysToTolerance, day)
}

export function suffers(fault: Fault | null, unit: number): fault is Fault {
  return fault !== null && (fault.unit === 'all' || fault.unit === unit)
}

/** True bias of a unit at a level, NTU: its standing part and its fault. */
export function trueBiasNtu(point: FleetPoint, unit: number, day: number, levelNtu: number): number {
  const standing = (point.standing[unit] ?? 0) * toleranceAt(WATER[point.water].tolerance, levelNtu)
  if (!suffers(point.fault, unit)) return standing
  return standing + faultShare(point.fault, day) * point.fault.size * effectAt(point.fault.kind, levelNtu)
}

/** True bias of a unit in tolerances at the usual level of its water. */
export function trueBias(point: FleetPoint, unit: number, day: number): number {
  return trueBiasNtu(point, unit, day, WATER[point.water].usualNtu) / usualTolerance(point)
}

/** First day at which the bias of a unit is beyond a level of tolerances; undefined where that is not within the run. */
export function dayBeyond(fleet: Fleet, point: FleetPoint, unit: number, ofTolerance: number): number | undefined {
  for (let quarter = 0; quarter < fleet.days * 24; quarter++) {
    if (Math.abs(trueBias(point, unit, quarter / 24)) > ofTolerance) return quarter / 24
  }
  return undefined
}

/** The register of a fleet: what is declared is what is true of the laboratory. */
export function fleetRegister(fleet: Fleet): RegisterFile {
  return {
    plant: `fleet-${String(fleet.seed)}`,
    timeZone: 'UTC',
    falseAlarmBudget: { analyzerYearsPerFalseAlarm: 5 },
    points: Object.fromEntries(
      fleet.points.map(point => {
        const { tolerance, laboratory } = WATER[point.water]
        return [
          point.id,
          {
            tolerance: { ...tolerance },
            grab: {
              standardUncertaintyNtu: laboratory[0] / point.s,
              relative: laboratory[1] / point.s,
              sharedStandardUncertaintyNtu: SHARED_NTU,
              timeUncertaintyS: 60,
              ...(point.grabsPerDay > 0 ? { perDay: point.grabsPerDay } : {}),
            },
            analyzers: Object.fromEntries(
              Array.from({ length: point.units }, (_, unit) => [
                unitId(point, unit),
                {
                  unit: 'NTU' as const,
                  intervalS: 900,
                  rangeNtu: [0, 1_000] as [number, number],
                  resolutionNtu: 0.001,
                },
              ]),
            ),
          },
        ]
      }),
    ),
  }
}

export function dayOf(atMs: number): number {
  return (atMs - START_MS) / DAY_MS
}
