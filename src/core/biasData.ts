import type { Interval, UnitEstimate } from '../diagnose/estimate.js'
import type { BiasData, RecommendationData } from '../model/events.js'
import type { Point } from '../model/plant.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { formatInstant } from '../model/time.js'

/** Bias with its interval in NTU and in tolerances. */
export function biasData(estimate: UnitEstimate, point: Point): BiasData {
  const { biasNtu, toleranceNtu } = estimate
  return {
    ntu: roundTo(biasNtu.value, DIGITS.ntu),
    ci95: ntu(biasNtu),
    atLevelNtu: roundTo(estimate.levelNtu, DIGITS.ntu),
    ofTolerance: roundTo(biasNtu.value / toleranceNtu, DIGITS.tolerances),
    ofToleranceCi95: [
      roundTo(biasNtu.low / toleranceNtu, DIGITS.tolerances),
      roundTo(biasNtu.high / toleranceNtu, DIGITS.tolerances),
    ],
    toleranceNtu: roundTo(toleranceNtu, DIGITS.ntu),
    trueAtActionLevels: point.actionLevelsNtu.map(shownNtu => ({
      shownNtu,
      trueNtu: roundTo(trueLevel(estimate, shownNtu), DIGITS.ntu),
    })),
  }
}

/** What the water is when the analyzer shows a level: reading = zero error + (1 + span error) · truth. */
function trueLevel(estimate: UnitEstimate, shownNtu: number): number {
  if (estimate.model === null) return shownNtu
  return (shownNtu - estimate.model.zeroNtu.value) / (1 + estimate.model.spanRel.value)
}

export function modelData({
  zeroNtu,
  spanRel,
}: NonNullable<UnitEstimate['model']>): NonNullable<RecommendationData['model']> {
  return {
    zeroNtu: { value: roundTo(zeroNtu.value, DIGITS.ntu), ci95: ntu(zeroNtu) },
    spanRel: {
      value: roundTo(spanRel.value, DIGITS.relative),
      ci95: [roundTo(spanRel.low, DIGITS.relative), roundTo(spanRel.high, DIGITS.relative)],
    },
  }
}

export function onsetData(onset: NonNullable<UnitEstimate['onset']>): NonNullable<RecommendationData['onset']> {
  return {
    estimate: formatInstant(onset.estimateMs),
    ...(onset.earliestMs === null ? {} : { earliest: formatInstant(onset.earliestMs) }),
    latest: formatInstant(onset.latestMs),
  }
}

export function forecastData(forecast: UnitEstimate['forecast']): RecommendationData['forecast'] {
  if (forecast === null) return null
  return {
    toleranceAt: formatInstant(forecast.toleranceAtMs),
    earliest: formatInstant(forecast.earliestMs),
    ...(forecast.latestMs === null ? {} : { latest: formatInstant(forecast.latestMs) }),
  }
}

function ntu(interval: Interval): [number, number] {
  return [roundTo(interval.low, DIGITS.ntu), roundTo(interval.high, DIGITS.ntu)]
}
