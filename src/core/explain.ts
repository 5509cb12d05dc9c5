import { pairResidualNtu } from '../compare/pair.js'
import { sharedOffset } from '../compare/laboratoryOffset.js'
import { CAP_FRACTION, chartShare } from '../detect/chart.js'
import type { Hypothesis } from '../diagnose/hypothesis.js'
import { weighHypotheses } from '../diagnose/posterior.js'
import type { RecommendationData, StatusData } from '../model/events.js'
import { addCounts } from '../model/exclusionCounts.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import type { Plant } from '../model/plant.js'
import { formatInstant, sayDay } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import type { ExclusionCounts } from '../model/vocabulary.js'
import { blockAt } from '../qualify/blockLog.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { advanceService, newServiceState, type ServiceState } from '../qualify/serviceGate.js'
import { OPENING } from '../recommend/decide.js'
import { LEAST_PAIRS } from '../recommend/proof.js'
import { sayNtu } from '../recommend/summary.js'
import { median } from '../statistics/robust.js'
import { REACH_MS } from './advance.js'
import { evidenceOf } from './assess.js'
import { type PointContext, pointContext } from './context.js'
import { evidenceData } from './evidenceData.js'
import { factsDue } from './facts.js'
import type { Explanation, GrabView, LineRow, LineView } from './explanation.js'
import type { PlantState } from './plantState.js'
import type { AnalyzerState, PointState, UnitFold } from './pointState.js'
import { excludedInAll } from './publishShift.js'
import { standingOf, statusData } from './statusData.js'

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
  const recommendation = recommendationOf(state, analyzer, point)
  const conditions = conditionsOf(context, point, unit, i)
  return {
    plant: state.id,
    plantName: plant.name,
    timeZone: plant.timeZone,
    analyzer,
    ...(context.analyzers[i]?.serial === undefined ? {} : { serial: context.analyzers[i].serial }),
    point: registered.id,
    pointName: registered.name,
    atMs: state.plantMs,
    toleranceText: `the larger of ${String(registered.tolerance.absoluteNtu)} NTU and ${String(roundTo(100 * registered.tolerance.relative, 1))} % of the level`,
    status:
      state.published.statuses.get(analyzer)?.data ??
      statusData(context, point, i, standingOf(context, point, i, state.workedMs), state.workedMs),
    ...(recommendation === undefined ? {} : { recommendation }),
    conditions,
    nearest: nearestOf(unit, standingOf(context, point, i, state.workedMs).missing, conditions, plant),
    lines: [grabLine(context, point, unit, i), ...redundantViews(context, point, i)],
    blocks: blocksOf(point, own, unit, state.workedMs),
    companions: registered.analyzers.flatMap((id, other) => {
      const companion = point.analyzers[other]
      return other === i || companion === undefined
        ? []
        : [{ analyzer: id, blocks: blocksOf(point, companion, point.fold.units[other], state.workedMs) }]
    }),
    grabs: grabViews(point, i),
    work: unit.works.map(({ atMs, action, id }) => ({
      atMs,
      text: `${action.replaceAll('_', ' ')}${id === null ? '' : ` (${id})`}`,
    })),
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

export interface PlantStatus {
  readonly plant: string
  readonly at: string
  readonly analyzers: readonly StatusData[]
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
    at: formatInstant(state.plantMs),
    analyzers: [...state.published.statuses.entries()]
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([, status]) => status.data),
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

/** Each condition for opening a bias case, its value and its limit. */
function conditionsOf(context: PointContext, point: PointState, unit: UnitFold, i: number): Explanation['conditions'] {
  const { estimate } = unit
  const charts = [
    { name: 'the grab chart', chart: unit.grab.chart },
    ...context.lines.flatMap((line, k) => {
      const own = point.fold.lines[k]
      return own === undefined || (line.against === 'others' && line.unit !== i)
        ? []
        : [{ name: `the chart of ${line.name}`, chart: own.chart }]
    }),
  ].filter(one => one.chart.n > 0)
  const leading = charts.sort((a, b) => chartShare(b.chart) - chartShare(a.chart))[0]
  const share = leading === undefined ? 0 : chartShare(leading.chart)
  const conditions = [
    {
      met: share > 1,
      text:
        leading === undefined
          ? 'no chart has a value yet'
          : `${leading.name} stands at ${percent(share)} of its limit (must pass it)`,
    },
  ]
  if (estimate === null) return [...conditions, { met: false, text: 'no estimate of the bias yet' }]
  const elsewhere = estimate.who.other + estimate.who.laboratory
  return [
    ...conditions,
    {
      met: estimate.pHalf >= OPENING.beyondHalf || estimate.pPassesIn7Days >= OPENING.passesSoon,
      text: `bias beyond half the tolerance: ${percent(estimate.pHalf)} (needs ${percent(OPENING.beyondHalf)}), or past the tolerance within 7 days: ${percent(estimate.pPassesIn7Days)} (needs ${percent(OPENING.passesSoon)})`,
    },
    {
      met: elsewhere <= OPENING.elsewhere,
      text: `another unit or the laboratory to blame: ${percent(elsewhere)} (at most ${percent(OPENING.elsewhere)})`,
    },
    {
      met: unit.proof === null,
      text:
        unit.proof === null
          ? 'no work awaits proof'
          : `work of ${sayDay(unit.proof.workMs)} awaits proof: ${String(unit.proof.residuals.length)} of 4 grabs are in`,
    },
  ]
}

function nearestOf(
  unit: UnitFold,
  missing: readonly string[],
  conditions: Explanation['conditions'],
  plant: Plant,
): string {
  if (unit.proof !== null) {
    const left = LEAST_PAIRS - unit.proof.residuals.length
    return left > 0
      ? `${String(left)} more grab samples decide whether the work helped`
      : 'the next grab sample may decide whether the work helped'
  }
  if (unit.case !== null)
    return 'the request is open; accepted work, or evidence that no longer bears it out, would close it'
  if (missing[0] !== undefined) return missing[0]
  const [chart, ...others] = conditions
  if (chart !== undefined && !chart.met) return `${chart.text}; ${threeGrabs(unit, plant)}`
  return others.find(one => !one.met)?.text ?? 'all conditions hold: two pieces of evidence open the request'
}

/** One value adds at most 0.4 of the limit: three that large pass it from zero. */
function threeGrabs(unit: UnitFold, plant: Plant): string {
  const { chart, recentU } = unit.grab
  if (chart.limit === 0 || recentU.length === 0 || unit.levelNtu === null || unit.estimate === null)
    return 'no grab sample has been charted yet'
  const u = median(recentU)
  const ofTolerance =
    (CAP_FRACTION * chart.limit * u * u) / (plant.delta1 - plant.delta0) + (plant.delta0 + plant.delta1) / 2
  return `three grab samples in a row that differ by ${sayNtu(ofTolerance * unit.estimate.toleranceNtu)} NTU the same way would pass it`
}

function grabLine(context: PointContext, point: PointState, unit: UnitFold, i: number): LineView {
  const evidence = evidenceData(context, point, i).find(one => one.line === 'grab')
  const offsetNtu = sharedOffset(point.fold.units.map(one => one.offset)).ntu
  const rows = point.pairs.flatMap((pair): LineRow[] => {
    const paired = pair.units[i]
    if (pair.use !== 'used' || paired == null || paired.limit === 0) return []
    return [
      {
        atMs: pair.atMs,
        ofTolerance: roundTo(pairResidualNtu(pair, paired, offsetNtu) / paired.toleranceNtu, DIGITS.tolerances),
        uOfTolerance: roundTo(paired.uNtu / paired.toleranceNtu, DIGITS.tolerances),
        high: roundTo(paired.high, DIGITS.statistic),
        low: roundTo(paired.low, DIGITS.statistic),
        limit: roundTo(paired.limit, DIGITS.statistic),
      },
    ]
  })
  return {
    line: 'grab',
    against: 'grab samples',
    ...(rows.length === 0 ? { missing: 'no grab sample has been paired with it' } : {}),
    delta0: context.plant.delta0,
    delta1: context.plant.delta1,
    ...(evidence === undefined ? {} : { evidence }),
    rows: rows.filter(row => row.atMs > unit.adjustedMs - REACH_MS),
  }
}

function redundantViews(context: PointContext, point: PointState, i: number): LineView[] {
  const common = { line: 'redundant' as const, delta0: context.plant.delta0, delta1: context.plant.delta1 }
  if (context.lines.length === 0)
    return [{ ...common, against: 'a second unit', missing: 'no second unit stands at the point', rows: [] }]
  const evidence = evidenceData(context, point, i).filter(one => one.line === 'redundant')
  return context.lines.flatMap((named, k) => {
    if (named.against === 'others' && named.unit !== i) return []
    const sign = named.against === 'pair' && named.unit !== i ? -1 : 1
    const rows = point.differences.flatMap((difference): LineRow[] => {
      const value = difference.lines[k]
      if (value == null) return []
      const high = roundTo(value.high, DIGITS.statistic)
      const low = roundTo(value.low, DIGITS.statistic)
      return [
        {
          atMs: difference.atMs,
          ofTolerance: roundTo(sign * value.ofTolerance, DIGITS.tolerances),
          uOfTolerance: roundTo(value.uOfTolerance, DIGITS.tolerances),
          high: sign === 1 ? high : low,
          low: sign === 1 ? low : high,
          limit: roundTo(value.limit, DIGITS.statistic),
        },
      ]
    })
    const own = evidence[0]
    return [
      {
        ...common,
        against: context.point.analyzers.filter((_, other) => other !== i).join(' and '),
        ...(rows.length === 0 ? { missing: 'the units have not been comparable for six hours yet' } : {}),
        ...(own === undefined ? {} : { evidence: own }),
        rows,
      },
    ]
  })
}

function blocksOf(
  point: PointState,
  analyzer: AnalyzerState,
  unit: UnitFold | undefined,
  workedMs: number,
): Explanation['blocks'] {
  const blocks: { endMs: number; medianNtu: number; usable: boolean }[] = []
  const service = newServiceState()
  for (const { dueMs } of point.facts) if (dueMs <= workedMs - REACH_MS) serviceAt(point, service, dueMs)
  for (let endMs = workedMs - REACH_MS + BLOCK_MS; endMs <= workedMs; endMs += BLOCK_MS) {
    const inService = serviceAt(point, service, endMs)
    const block = blockAt(analyzer.log, endMs)
    if (block === undefined || Number.isNaN(block.medianNtu)) continue
    const inWork = unit?.works.some(work => Math.abs(work.atMs - endMs) < 4 * BLOCK_MS) ?? false
    blocks.push({
      endMs,
      medianNtu: roundTo(block.medianNtu, DIGITS.ntu),
      usable: inService && block.flags === 0 && !inWork,
    })
  }
  return blocks
}

function serviceAt(point: PointState, service: ServiceState, endMs: number): boolean {
  const changes = factsDue(point.facts, endMs).flatMap(({ message }) => (message.kind === 'process' ? [message] : []))
  return advanceService(service, changes, endMs)
}

function grabViews(point: PointState, i: number): GrabView[] {
  return point.pairs.map(pair => {
    const paired = pair.units[i]
    return {
      atMs: pair.atMs,
      grabNtu: roundTo(pair.grabNtu, DIGITS.ntu),
      uNtu: roundTo(paired?.uNtu ?? 0, DIGITS.ntu),
      analyzerNtu: paired == null ? undefined : roundTo(paired.ntu, DIGITS.ntu),
      sampleId: pair.sampleId ?? undefined,
      use: pair.use,
    }
  })
}

const SHOWN_HYPOTHESES = 8
const KIND_WORDS = { zero: 'zero error', span: 'span error', fouling: 'film on the window', none: 'nothing' } as const

function hypothesesOf(context: PointContext, point: PointState, workedMs: number): Explanation['hypotheses'] {
  const levels = point.fold.units.flatMap(unit => unit.levelNtu ?? [])
  const levelNtu = levels.length > 0 ? levels.reduce((sum, level) => sum + level, 0) / levels.length : 0
  const evidence = evidenceOf(context, point, workedMs)
  if (evidence.series.length === 0) return []
  const posterior = weighHypotheses({
    evidence,
    atMs: workedMs,
    toleranceNtu: toleranceAt(context.point.tolerance, levelNtu),
    cleaningsMs: point.fold.units.map(unit => unit.cleaningsMs),
    laboratoryGain: null,
  })
  const byText = new Map<string, number>()
  for (const hypothesis of posterior.hypotheses) {
    const text = sayHypothesis(hypothesis, context)
    byText.set(text, (byText.get(text) ?? 0) + hypothesis.weight)
  }
  return [...byText.entries()]
    .sort(([, a], [, b]) => b - a)
    .slice(0, SHOWN_HYPOTHESES)
    .map(([text, probability]) => ({ text, probability: roundTo(probability, DIGITS.probability) }))
}

function sayHypothesis({ who, kind, shape }: Hypothesis, context: PointContext): string {
  if (who === 'nobody') return 'nothing is wrong'
  if (who === 'laboratory') return 'the laboratory has shifted'
  const whom = who === 'all' ? 'all units' : (context.point.analyzers[who] ?? '')
  return `${whom}: ${KIND_WORDS[kind]}, ${shape === 'step' ? 'at once' : 'growing'}`
}

function sumCounts(a: ExclusionCounts, b: ExclusionCounts): ExclusionCounts {
  const sum: ExclusionCounts = { ...a }
  addCounts(sum, b)
  return sum
}

function percent(share: number): string {
  if (share > 0 && share < 0.01) return 'under 1 %'
  if (share > 0.99 && share < 1) return 'over 99 %'
  return `${String(roundTo(100 * share, 0))} %`
}
