import type { PlantEvent, StatusData } from '../model/events.js'
import type { Plant } from '../model/plant.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { DAY_MS, parseInstant } from '../model/time.js'
import { REACH_MS } from './advance.js'
import { modelData } from './biasData.js'
import type { PlantState } from './plantState.js'
import { seriesPoint, type SeriesPoint } from './series.js'

/** What was told at an instant: statuses with bias, requests and findings as annotations, and by midnight the slow lines. */
export function toldSeries(state: PlantState, plant: Plant, events: readonly PlantEvent[]): SeriesPoint[] {
  return [
    ...events.map(event =>
      event.type === 'analyzer.status' ? status(state, plant, event.data, event.time) : undefined,
    ),
    ...annotations(plant, events),
    ...(state.workedMs % DAY_MS === 0 ? slowLines(state, plant) : []),
  ].filter(one => one !== undefined)
}

function status(state: PlantState, plant: Plant, data: StatusData, time: string): SeriesPoint | undefined {
  const { bias, point, analyzer } = data
  const i = plant.points.get(point)?.analyzers.indexOf(analyzer) ?? -1
  const estimate = state.points.get(point)?.fold.units[i]?.estimate
  const model = bias === undefined || estimate?.model == null ? undefined : modelData(estimate.model)
  return seriesPoint('turbidity_status', placeOf(plant, analyzer, point), parseInstant(time) ?? 0, {
    assessment: data.assessment,
    summary: data.summary,
    missing: data.missing.join('; '),
    biasNtu: bias?.ntu,
    ci95LowNtu: bias?.ci95[0],
    ci95HighNtu: bias?.ci95[1],
    biasOfTolerance: bias?.ofTolerance,
    ci95LowOfTolerance: bias?.ofToleranceCi95[0],
    ci95HighOfTolerance: bias?.ofToleranceCi95[1],
    sizeOfTolerance: Math.abs(bias?.ofTolerance ?? NaN),
    toleranceNtu: bias?.toleranceNtu,
    atLevelNtu: bias?.atLevelNtu,
    zeroErrorNtu: model?.zeroNtu.value,
    zeroErrorCi95LowNtu: model?.zeroNtu.ci95[0],
    zeroErrorCi95HighNtu: model?.zeroNtu.ci95[1],
    spanErrorShare: model?.spanRel.value,
    spanErrorCi95LowShare: model?.spanRel.ci95[0],
    spanErrorCi95HighShare: model?.spanRel.ci95[1],
  })
}

function annotations(plant: Plant, events: readonly PlantEvent[]): (SeriesPoint | undefined)[] {
  const taken = new Map<string, number>()
  return events.map(event => {
    const { type, data } = event
    if (type === 'analyzer.status' || type === 'shift.summary' || type === 'message.rejected') return undefined
    const tags = { ...placeOf(plant, data.analyzer, 'point' in data ? data.point : undefined), type }
    const key = `${tags.analyzer ?? ''} ${tags.point ?? ''} ${type}`
    const before = taken.get(key) ?? 0
    taken.set(key, before + 1)
    // Two of one kind and instant stand a millisecond apart, or the second would replace the first.
    return seriesPoint('turbidity_annotation', tags, (parseInstant(event.time) ?? 0) + before, {
      text: data.summary,
      ...('reason' in data ? { reason: data.reason } : {}),
      ...('recommendation' in data ? { recommendation: data.recommendation } : {}),
      ...('phase' in data ? { phase: data.phase } : {}),
      ...('finding' in data ? { finding: data.finding } : {}),
      ...('action' in data
        ? {
            action: data.action,
            urgency: data.urgency,
            cause: data.cause.ranked[0]?.cause,
            biasOfTolerance: data.bias?.ofTolerance,
          }
        : {}),
    })
  })
}

/** The days in reach anew: a late fact may have changed each of them. */
function slowLines(state: PlantState, plant: Plant): (SeriesPoint | undefined)[] {
  return [...state.points.values()].flatMap(point =>
    point.slow.flatMap((lines, i) =>
      lines.flatMap(({ line, shift, sigma, points, against }) => {
        const toleranceNtu = shift === null || shift.ofTolerance === 0 ? NaN : Math.abs(shift.ntu / shift.ofTolerance)
        const tags = { ...placeOf(plant, plant.points.get(point.id)?.analyzers[i], point.id), line }
        return points
          .filter(([atMs]) => atMs > state.workedMs - REACH_MS)
          .map(([atMs, ofTolerance]) =>
            seriesPoint('turbidity_difference', tags, atMs, {
              differenceNtu: roundTo(ofTolerance * toleranceNtu, DIGITS.ntu),
              standardUncertaintyNtu: roundTo(sigma * toleranceNtu, DIGITS.ntu),
              differenceOfTolerance: roundTo(ofTolerance, DIGITS.tolerances),
              standardUncertaintyOfTolerance: roundTo(sigma, DIGITS.tolerances),
              toleranceNtu: roundTo(toleranceNtu, DIGITS.ntu),
              use: 'used',
              against,
            }),
          )
      }),
    ),
  )
}

function placeOf(plant: Plant, analyzer: string | undefined, point: string | undefined) {
  const at = point ?? plant.analyzers.get(analyzer ?? '')?.point
  return { plant: plant.plant, area: plant.points.get(at ?? '')?.area, point: at, analyzer }
}
