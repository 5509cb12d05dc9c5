import { decodeMessage } from '../model/decode.js'
import type { Unit } from '../model/units.js'

/** What a record shows of one analyzer. */
export interface SurveyedAnalyzer {
  readonly unit: Unit
  readings: number
  /** Usual time between two readings, s; undefined with fewer than three. */
  readonly intervalS: () => number | undefined
}

export interface SurveyedPoint {
  grabs: number
  firstMs: number
  lastMs: number
}

export interface Survey {
  readonly take: (message: unknown) => void
  readonly analyzers: ReadonlyMap<string, SurveyedAnalyzer>
  readonly points: ReadonlyMap<string, SurveyedPoint>
}

const GAPS_LOOKED_AT = 500
/** A record that names more analyzers than this is no record of one plant. */
const MAX_NAMES = 1_000

/** Looks through a record for what a register has to say: analyzers, units, intervals, points with grab samples. */
export function createSurvey(): Survey {
  const analyzers = new Map<string, SurveyedAnalyzer & { lastMs: number; readonly gapsMs: number[] }>()
  const points = new Map<string, SurveyedPoint>()
  return {
    analyzers,
    points,
    take: value => {
      const decoded = decodeMessage(value)
      if (!decoded.ok) return
      const { message } = decoded
      if (message.kind === 'reading') {
        const known = analyzers.get(message.analyzer)
        if (known === undefined) {
          if (analyzers.size >= MAX_NAMES) return
          const gapsMs: number[] = []
          analyzers.set(message.analyzer, {
            unit: message.unit,
            readings: 1,
            lastMs: message.atMs,
            gapsMs,
            intervalS: () => middle(gapsMs),
          })
          return
        }
        known.readings += 1
        if (message.atMs > known.lastMs && known.gapsMs.length < GAPS_LOOKED_AT) {
          known.gapsMs.push(message.atMs - known.lastMs)
        }
        known.lastMs = message.atMs
      } else if (message.kind === 'grab') {
        const known = points.get(message.point)
        if (known === undefined) {
          if (points.size < MAX_NAMES) {
            points.set(message.point, { grabs: 1, firstMs: message.sampledMs, lastMs: message.sampledMs })
          }
          return
        }
        known.grabs += 1
        known.firstMs = Math.min(known.firstMs, message.sampledMs)
        known.lastMs = Math.max(known.lastMs, message.sampledMs)
      }
    },
  }
}

function middle(gapsMs: readonly number[]): number | undefined {
  if (gapsMs.length < 2) return undefined
  const sorted = [...gapsMs].sort((a, b) => a - b)
  return Math.round(sorted[Math.floor(sorted.length / 2)]! / 1_000)
}
