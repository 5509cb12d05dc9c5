import { foundOutside } from '../compare/verification.js'
import { CAP_FRACTION, chartShare } from '../detect/chart.js'
import { roundTo } from '../model/rounding.js'
import type { Plant } from '../model/plant.js'
import { sayDay } from '../model/time.js'
import { OPENING } from '../recommend/opening.js'
import { LEAST_PAIRS } from '../recommend/proof.js'
import { sayNtu } from '../recommend/summary.js'
import { median } from '../statistics/robust.js'
import type { PointContext } from './context.js'
import type { Explanation } from './explanation.js'
import type { PointState, UnitFold } from './pointState.js'
import { sayReference } from './watchSentence.js'

/** Each condition for opening a bias case, its value and its limit. */
export function conditionsOf(
  context: PointContext,
  point: PointState,
  unit: UnitFold,
  i: number,
): Explanation['conditions'] {
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
  const outside = foundOutside(unit.verifications, unit.adjustedMs)
  const conditions = [
    {
      met: share > 1 || outside !== undefined,
      text:
        outside !== undefined
          ? `on ${sayReference(outside)} it was found ${sayNtu(Math.abs(outside.foundNtu - outside.assignedNtu))} NTU off on ${sayDay(outside.atMs)} (limit ${sayNtu(outside.limitNtu)} NTU), which stands for a chart`
          : leading === undefined
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

/** The one thing nearest to changing the answer. @param missing what would have to come in for a firmer one */
export function nearestOf(
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

function percent(share: number): string {
  if (share > 0 && share < 0.01) return 'under 1 %'
  if (share > 0.99 && share < 1) return 'over 99 %'
  return `${String(roundTo(100 * share, 0))} %`
}
