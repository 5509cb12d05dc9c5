import type { PlantState } from '../../../src/core/plantState.js'
import type { Cause } from '../../../src/model/vocabulary.js'
import type { PlantEvent, RecommendationData } from '../../../src/model/events.js'
import { DAY_MS, parseInstant } from '../../../src/model/time.js'
import {
  dayBeyond,
  dayOf,
  type Fault,
  type Fleet,
  type FleetPoint,
  faultShare,
  START_MS,
  suffers,
  trueBias,
  trueBiasNtu,
  unitId,
} from './fleet.js'
import { FILM_CROSSOVER_NTU } from '../../../src/diagnose/hypothesis.js'
import { troubleOf, type Trouble } from './grid.js'
import { oracleView, type OracleView } from './oracle.js'
import type { CauseRecord } from './scoring.js'
import { watchFleet } from './watch.js'

/** One fault of the grid and what was said of it. */
export interface FaultCase {
  readonly seed: number
  readonly point: string
  readonly trouble: Trouble
  readonly shape: Fault['shape']
  readonly s: number
  readonly units: number
  readonly grabsPerDay: number
  readonly daysToTolerance: number
  /** First request that names an analyzer of the point; null where none came. */
  readonly opened: Opening | null
  /** A request to find out which unit is wrong came first, or alone. */
  readonly asked: boolean
  /** The causes as ranked fourteen days later, while the request was still open. */
  readonly later: CauseRecord | null
}

export interface Opening {
  readonly rightUnit: boolean
  /** True bias of the unit at fault when it opened, tolerances. */
  readonly bias: number
  readonly beforeTolerance: boolean
  /** Days since the true bias passed the dead band's edge. */
  readonly delayDays: number
  readonly action: string
  /** Whether each interval held the truth; null where none was printed. Only where the right unit was named. */
  readonly covers: Readonly<Record<'bias' | 'zero' | 'span' | 'onset', boolean | null>>
  /** True onset less the estimate, and the ends of the interval less the estimate; null where an end is open. */
  readonly onsetDays: { readonly error: number; readonly earliest: number | null; readonly latest: number } | null
  readonly causes: CauseRecord
}

export interface CauseView {
  readonly truth: Cause
  /** Stated probability of each cause, without "undecided". */
  readonly stated: readonly { readonly cause: Cause; readonly probability: number }[]
}

/** An opening about a point where nothing is wrong. */
export interface FalseOpening {
  readonly seed: number
  readonly analyzer: string
  readonly day: number
  readonly bias: number
  readonly action: string
  readonly summary: string
}

export interface FleetVerdict {
  readonly cases: readonly FaultCase[]
  readonly falseOpenings: readonly FalseOpening[]
  /** Days on which the laboratory was named. */
  readonly laboratoryNamed: readonly number[]
  readonly analyzerYears: number
}

const LATER_DAYS = 14
export const DELTA0 = 0.25
const RESTED_DAYS = 7

export function judgeFleet(fleet: Fleet): FleetVerdict {
  const openings = new Map<string, { atMs: number; data: RecommendationData; oracle: OracleView }>()
  const asked = new Set<string>()
  const later = new Map<string, CauseRecord>()
  const falseOpenings: FalseOpening[] = []
  const laboratoryNamed: number[] = []
  const byId = new Map(fleet.points.map(point => [point.id, point]))

  watchFleet(fleet, (event, state) => {
    if (event.type === 'recommendation.opened') noteOpening(event, state)
    for (const [pointId, { atMs, data }] of openings) {
      if (later.has(pointId) || parseInstant(event.time)! < atMs + LATER_DAYS * DAY_MS) continue
      const view = viewNow(state, byId.get(pointId)!, data, parseInstant(event.time)!)
      if (view !== undefined) later.set(pointId, view)
    }
  })

  function noteOpening(event: PlantEvent, state: PlantState): void {
    if (event.type !== 'recommendation.opened') return
    const { data } = event
    const atMs = parseInstant(event.time)!
    const day = dayOf(atMs)
    if (data.target.laboratoryInstrument !== undefined) laboratoryNamed.push(day)
    const point = byId.get(data.point ?? '')
    if (point === undefined) return
    if (data.target.analyzer === undefined) {
      if (data.target.point !== undefined) asked.add(point.id)
      return
    }
    if (data.bias === undefined) return
    const unit = unitOf(point, data.target.analyzer)
    const active = point.fault !== null && day > point.fault.onsetDay
    if (!active && hasRested(point, unit, day)) {
      const bias = trueBias(point, unit, day)
      falseOpenings.push({
        seed: fleet.seed,
        analyzer: data.target.analyzer,
        day,
        bias,
        action: data.action,
        summary: data.summary,
      })
    } else if (!openings.has(point.id) && active) {
      openings.set(point.id, { atMs, data, oracle: oracleView(state, point, atMs) })
    }
  }

  const units = fleet.points.reduce((sum, point) => sum + point.units, 0)
  return {
    cases: fleet.points.flatMap(point => {
      if (point.fault === null) return []
      const opened = openings.get(point.id)
      return [
        {
          seed: fleet.seed,
          point: point.id,
          trouble: troubleOf(point.fault),
          shape: point.fault.shape,
          s: point.s,
          units: point.units,
          grabsPerDay: point.grabsPerDay,
          daysToTolerance: point.fault.daysToTolerance,
          opened: opened === undefined ? null : judgeOpening(fleet, point, point.fault, opened),
          asked: asked.has(point.id),
          later: later.get(point.id) ?? null,
        },
      ]
    }),
    falseOpenings,
    laboratoryNamed,
    analyzerYears: (units * fleet.days) / 365.25,
  }
}

function hasRested(point: FleetPoint, unit: number, day: number): boolean {
  return Math.abs(trueBias(point, unit, day)) < DELTA0 && Math.abs(trueBias(point, unit, day - RESTED_DAYS)) < DELTA0
}

function judgeOpening(
  fleet: Fleet,
  point: FleetPoint,
  fault: Fault,
  { atMs, data, oracle }: { readonly atMs: number; readonly data: RecommendationData; readonly oracle: OracleView },
): Opening {
  const day = dayOf(atMs)
  const named = unitOf(point, data.target.analyzer!)
  const rightUnit = suffers(fault, named)
  const faulty = fault.unit === 'all' ? named : fault.unit
  const bias = trueBias(point, faulty, day)
  return {
    rightUnit,
    bias,
    beforeTolerance: Math.abs(bias) < 1,
    delayDays: day - (dayBeyond(fleet, point, faulty, DELTA0) ?? day),
    action: data.action,
    covers: rightUnit ? coverage(point, fault, named, atMs, data) : { bias: null, zero: null, span: null, onset: null },
    onsetDays: onsetDays(fault, data),
    causes: { truth: CAUSE_OF[fault.kind], stated: stated(data.cause.ranked), oracle: oracle.kinds },
  }
}

function onsetDays(fault: Fault, { onset }: RecommendationData): Opening['onsetDays'] {
  if (onset === undefined) return null
  const day = (time: string): number => dayOf(parseInstant(time)!)
  const estimate = day(onset.estimate)
  return {
    error: fault.onsetDay - estimate,
    earliest: onset.earliest === undefined ? null : day(onset.earliest) - estimate,
    latest: day(onset.latest) - estimate,
  }
}

const CAUSE_OF = { zero: 'zero_drift', span: 'span_drift', fouling: 'fouling' } as const

function stated(ranked: readonly { readonly cause: Cause; readonly probability: number }[]): CauseView['stated'] {
  return ranked.filter(({ cause }) => cause !== 'undecided').map(({ cause, probability }) => ({ cause, probability }))
}

function coverage(
  point: FleetPoint,
  fault: Fault,
  unit: number,
  atMs: number,
  data: RecommendationData,
): Opening['covers'] {
  const day = dayOf(atMs)
  const { bias, model, onset } = data
  const holds = (value: number, [low, high]: readonly [number, number]): boolean => value >= low && value <= high
  const size = faultShare(fault, day) * fault.size
  const zeroNtu = fault.kind === 'span' ? 0 : size
  const spanRel = fault.kind === 'span' ? size : fault.kind === 'fouling' ? -size / FILM_CROSSOVER_NTU : 0
  const standingNtu = trueBiasNtu({ ...point, fault: null }, unit, day, bias?.atLevelNtu ?? 0)
  const onsetMs = START_MS + fault.onsetDay * DAY_MS
  return {
    bias: bias === undefined ? null : holds(trueBiasNtu(point, unit, day, bias.atLevelNtu), bias.ci95),
    zero: model === undefined ? null : holds(zeroNtu + standingNtu, model.zeroNtu.ci95),
    span: model === undefined ? null : holds(spanRel, model.spanRel.ci95),
    onset:
      onset === undefined
        ? null
        : onsetMs <= parseInstant(onset.latest)! &&
          (onset.earliest === undefined || onsetMs >= parseInstant(onset.earliest)!),
  }
}

function viewNow(
  state: PlantState,
  point: FleetPoint,
  data: RecommendationData,
  atMs: number,
): CauseRecord | undefined {
  const unit = unitOf(point, data.target.analyzer!)
  const causes = state.points.get(point.id)?.fold.units[unit]?.case?.causes
  if (causes === undefined || point.fault === null) return undefined
  return {
    truth: CAUSE_OF[point.fault.kind],
    stated: stated(causes),
    oracle: oracleView(state, point, atMs).kinds,
  }
}

function unitOf(point: FleetPoint, analyzer: string): number {
  return Array.from({ length: point.units }, (_, unit) => unitId(point, unit)).indexOf(analyzer)
}
