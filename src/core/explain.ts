import type { RecommendationData } from '../model/events.js'
import { addCounts } from '../model/exclusionCounts.js'
import { roundTo } from '../model/rounding.js'
import { formatInstant } from '../model/time.js'
import type { ExclusionCounts } from '../model/vocabulary.js'
import { pointContext } from './context.js'
import { criteriaData } from './criteriaData.js'
import type { Explanation, StandingData } from './explanation.js'
import type { PlantState } from './plantState.js'
import type { PointState } from './pointState.js'
import { correctionsOf } from './correctedRecord.js'
import { excludedInAll } from './publishShift.js'
import { classOf, scoreRows } from './scorecard.js'
import { standingOf } from './statusData.js'
import { blocksOf } from './explainBlocks.js'
import { grabComparison } from './explainComparison.js'
import { conditionsOf, nearestOf } from './explainConditions.js'
import { hypothesesOf } from './explainHypotheses.js'
import { signsOf } from './signsOf.js'
import { weighSign } from '../recommend/weighSigns.js'
import { grabLine, grabViews, redundantViews } from './explainLines.js'
import { otherLines } from './explainOtherLines.js'
import { precisionOf } from './explainPrecision.js'

/** Everything known about one analyzer now; undefined where the register does not know it. */
export function explainAnalyzer(state: PlantState, analyzer: string): Explanation | undefined {
  const plant = state.register?.plant
  const registered = plant?.points.get(plant.analyzers.get(analyzer)?.point ?? '')
  const point = state.points.get(registered?.id ?? '')
  if (plant === undefined || registered === undefined || point === undefined) return undefined
  const context = pointContext(plant, registered, state.laboratory.intervals)
  const i = registered.analyzers.indexOf(analyzer)
  const unit = point.fold.units[i]
  const own = point.analyzers[i]
  if (unit === undefined || own === undefined) return undefined
  const serial = unit.work.serial ?? context.analyzers[i]?.serial
  const recommendation = recommendationOf(state, analyzer, point)
  const conditions = conditionsOf(context, point, unit, i)
  const precision = precisionOf(registered.analyzers, point)
  const corrections = context.analyzers[i] === undefined ? [] : correctionsOf(unit, context.analyzers[i])
  const trackRecord = scoreRows(state, classOf(state, registered.id))
  return {
    plant: state.id,
    plantName: plant.name,
    timeZone: plant.timeZone,
    analyzer,
    ...(serial === undefined ? {} : { serial }),
    point: registered.id,
    pointName: registered.name,
    atMs: state.plantMs,
    toleranceText: `the larger of ${String(registered.tolerance.absoluteNtu)} NTU and ${String(roundTo(100 * registered.tolerance.relative, 1))} % of the level`,
    status: standingData(state, analyzer, registered.id),
    ...(recommendation === undefined ? {} : { recommendation }),
    conditions,
    nearest: nearestOf(unit, standingOf(context, point, i, state.workedMs).missing, conditions, plant),
    lines: [
      grabLine(context, point, unit, i),
      ...redundantViews(context, point, i),
      ...otherLines(context, point, unit, i),
    ],
    ...(precision === undefined ? {} : { precision }),
    comparison: grabComparison(context, point, unit, i),
    ...(registered.criteria.length === 0 ? {} : { criteria: criteriaData(context, point, i, state.plantMs) }),
    blocks: blocksOf(point, own, unit, state.workedMs),
    companions: registered.analyzers.flatMap((id, other) => {
      const companion = point.analyzers[other]
      return other === i || companion === undefined
        ? []
        : [{ analyzer: id, blocks: blocksOf(point, companion, point.fold.units[other], state.workedMs) }]
    }),
    grabs: grabViews(point, i),
    work: unit.works.map(({ atMs, action, id, serial }) => ({
      atMs,
      text: `${action.replaceAll('_', ' ')}${id === null ? '' : ` (${id})`}${serial === null ? '' : `, serial ${serial}`}`,
    })),
    ...(corrections.length === 0 ? {} : { corrections }),
    ...(trackRecord.length === 0 ? {} : { trackRecord }),
    signs: signsOf(context, point, unit, i, state.workedMs).map(sign => weighSign(sign).text),
    hypotheses: hypothesesOf(context, point, state.workedMs),
    ...(unit.estimate?.onset == null
      ? {}
      : {
          onset: {
            estimateMs: unit.estimate.onset.estimateMs,
            latestMs: unit.estimate.onset.latestMs,
            ...(unit.estimate.onset.earliestMs === null ? {} : { earliestMs: unit.estimate.onset.earliestMs }),
          },
        }),
    excluded: sumCounts(sumCounts(own.excluded, unit.excluded), unit.pairsExcluded),
    reproduce: { registerHash: state.register?.hash ?? '', fromMs: state.startedMs, toMs: state.plantMs },
  }
}

/** By id of an open or the last closed recommendation of a target. */
export function explainRecommendation(state: PlantState, recommendation: string): Explanation | undefined {
  const all = [...[...state.published.cases.values()].map(one => one.data), ...state.published.closed.values()]
  const found = all.find(data => data.recommendation === recommendation)
  if (found === undefined) return undefined
  const analyzer = analyzerFor(state, found)
  const explanation = analyzer === undefined ? undefined : explainAnalyzer(state, analyzer)
  return explanation === undefined ? undefined : { ...explanation, recommendation: found }
}

export interface PlantStatus {
  readonly plant: string
  /** Plant time, RFC 3339; null before the first tick. */
  readonly at: string | null
  /** Every analyzer of the register, by name. */
  readonly analyzers: readonly StandingData[]
  readonly open: readonly RecommendationData[]
  readonly counts: {
    readonly messages: number
    readonly rejected: number
    readonly repeats: number
    readonly ignoredFields: number
    readonly excluded: ExclusionCounts
    readonly unknownAnalyzers: Readonly<Record<string, number>>
  }
}

export function plantStatus(state: PlantState): PlantStatus {
  return {
    plant: state.id,
    at: state.plantMs === 0 ? null : formatInstant(state.plantMs),
    analyzers: [...(state.register?.plant.analyzers.values() ?? [])]
      .sort((a, b) => (a.id < b.id ? -1 : 1))
      .map(({ id, point }) => standingData(state, id, point)),
    open: [...state.published.cases.values()]
      .map(one => one.data)
      .sort((a, b) => (a.recommendation < b.recommendation ? -1 : 1)),
    counts: {
      messages: state.counts.messages,
      rejected: state.counts.rejected,
      repeats: state.counts.repeats,
      ignoredFields: state.counts.ignoredFields,
      excluded: excludedInAll(state),
      unknownAnalyzers: Object.fromEntries([...state.counts.unknownAnalyzers].sort(([a], [b]) => (a < b ? -1 : 1))),
    },
  }
}

const NOT_WORKED = 'no block has been worked through yet'

/** What was told last; silence is not health, so an analyzer nothing was told of is not assessed. */
function standingData(state: PlantState, analyzer: string, point: string): StandingData {
  return (
    state.published.statuses.get(analyzer)?.data ?? {
      summary: `${analyzer} is not assessed: ${NOT_WORKED}.`,
      notify: 'shift_summary',
      analyzer,
      point,
      assessment: 'not_assessed',
      missing: [NOT_WORKED],
      findings: [],
    }
  )
}

/** The request about the analyzer, its point or the laboratory behind its grab samples, else the last one closed. */
function recommendationOf(state: PlantState, analyzer: string, point: PointState): RecommendationData | undefined {
  const { cases, closed } = state.published
  const own = cases.get(analyzer) ?? cases.get(`point:${point.id}`)
  if (own !== undefined) return own.data
  const { fromMs } = state.laboratory.intervals.at(-1) ?? { fromMs: Infinity }
  const isMeasured = point.pairs.some(pair => pair.atMs >= fromMs)
  const laboratory = [...cases.values()].find(one => one.data.target.laboratoryInstrument !== undefined)
  return isMeasured && laboratory !== undefined ? laboratory.data : closed.get(analyzer)
}

/** The analyzer whose evidence shows it best: its own, the first of its point, or the one with most pairs of the laboratory. */
function analyzerFor(state: PlantState, { target }: RecommendationData): string | undefined {
  const plant = state.register?.plant
  if (target.analyzer !== undefined) return target.analyzer
  if (target.point !== undefined) return plant?.points.get(target.point)?.analyzers[0]
  const fromMs = state.laboratory.intervals.at(-1)?.fromMs ?? 0
  const seen = [...state.points.values()].map(point => ({
    id: point.id,
    n: point.pairs.filter(pair => pair.atMs >= fromMs).length,
  }))
  const most = seen.sort((a, b) => b.n - a.n)[0]
  return most === undefined ? undefined : plant?.points.get(most.id)?.analyzers[0]
}

function sumCounts(a: ExclusionCounts, b: ExclusionCounts): ExclusionCounts {
  const sum: ExclusionCounts = { ...a }
  addCounts(sum, b)
  return sum
}
