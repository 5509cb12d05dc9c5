import { STANDING_OFFSET } from '../compare/laboratoryOffset.js'
import type { EvidenceInput } from './evidence.js'
import { mean } from '../statistics/mean.js'

/**
 * What stays the same all the time and is not known: the standing offset of each unit, the laboratory's error left
 * after its offset was learnt, its unknown shift in each interval, the level of each other method that grab samples were
 * read with, and the error of each standard's assigned value. All values share them.
 */
export interface OffsetPlan {
  readonly units: number
  readonly intervals: number
  readonly methods: readonly string[]
  readonly standards: readonly string[]
  /** Prior variances in the order units, laboratory, intervals, methods, standards; tolerances squared. */
  readonly variances: readonly number[]
}

/** What one series mixes of them. */
export interface Mix {
  /** Standing offsets by unit; absent where none is in it. */
  readonly weights?: readonly number[] | undefined
  readonly isGrab?: boolean
  /** Position of the laboratory's interval; −1 for none. */
  readonly interval?: number
  readonly method?: string | undefined
  readonly standard?: string
}

/** Standing offset of a healthy unit and shift of the laboratory beyond what its interval says, tolerances squared. */
const STANDING_VARIANCE = STANDING_OFFSET * STANDING_OFFSET
const SHIFT_VARIANCE = 1
/** Keeps the precision finite where something is declared to have no error of its own. */
const LEAST_VARIANCE = 1e-6

export function offsetPlan(input: EvidenceInput): OffsetPlan {
  const tolerances = input.pairs.flatMap(pair => {
    const usable = pair.units.flatMap(unit => unit?.toleranceNtu ?? [])
    return usable.length > 0 && pair.use === 'used' ? [mean(usable)] : []
  })
  const toleranceNtu = tolerances.length > 0 ? mean(tolerances) : 1
  const methods = groupMeans(
    input.pairs.flatMap(({ byMethod }) =>
      byMethod === undefined ? [] : [[byMethod.method, byMethod.levelVariance] as const],
    ),
  )
  const standards = groupMeans(
    input.verifications.flat().flatMap(one => {
      const ofTolerance = one.referenceUNtu / one.toleranceNtu
      return one.use === 'used' ? [[standardKey(one.standard, one.type), ofTolerance * ofTolerance] as const] : []
    }),
  )
  return {
    units: input.units,
    intervals: input.laboratoryIntervals.length,
    methods: [...methods.keys()],
    standards: [...standards.keys()],
    variances: [
      ...new Array<number>(input.units).fill(STANDING_VARIANCE),
      input.offset.variance / (toleranceNtu * toleranceNtu),
      ...input.laboratoryIntervals.map(() => SHIFT_VARIANCE),
      ...methods.values(),
      ...standards.values(),
    ].map(variance => Math.max(LEAST_VARIANCE, variance)),
  }
}

/** One standard is one error, whichever analyzer of the point it was put into; one without a name is its kind's. */
export function standardKey(standard: string | null, type: string): string {
  return standard ?? type
}

/** Share of each offset in a series. */
export function loadingOf(plan: OffsetPlan, { weights, isGrab, interval, method, standard }: Mix): number[] {
  return [
    ...(weights ?? new Array<number>(plan.units).fill(0)),
    isGrab === true ? 1 : 0,
    ...Array.from({ length: plan.intervals }, (_, k) => (k === interval ? 1 : 0)),
    ...plan.methods.map(one => (one === method ? 1 : 0)),
    ...plan.standards.map(one => (one === standard ? 1 : 0)),
  ]
}

function groupMeans(values: readonly (readonly [string, number])[]): Map<string, number> {
  const groups = new Map<string, number[]>()
  for (const [key, value] of values) groups.set(key, [...(groups.get(key) ?? []), value])
  return new Map([...groups].sort(([a], [b]) => (a < b ? -1 : 1)).map(([key, all]) => [key, mean(all)]))
}
