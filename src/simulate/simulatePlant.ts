import type { RegisterFile } from '../model/register.js'
import { DAY_MS, parseInstant } from '../model/time.js'
import { drawErrors } from './analyzerError.js'
import { drawBackwashes } from './filterRuns.js'
import { drawBottles } from './laboratory.js'
import { hollinWeirRegister } from './register.js'
import { registerText } from './registerText.js'
import { drawScenario } from './scenario.js'
import { factArrivals, streamLines } from './stream.js'
import { describeTruth, type SimulationTruth } from './truth.js'
import { planVisits } from './visits.js'
import { drawWater } from './water.js'

export interface SimulationOptions {
  /** Whole number; the same seed gives the same bytes on every engine. */
  readonly seed: number
  /** Length of the run, whole days from 1 to 400; default 60. What begins later does not happen. */
  readonly days?: number
  /** First instant, RFC 3339; default 2026-04-01T00:00:00Z. */
  readonly start?: string
}

export interface Simulation {
  readonly register: RegisterFile
  /** register.yaml, with remarks. */
  readonly registerYaml: string
  /** One JSON object each, without line end, in order of arrival. May be read more than once; each time anew. */
  readonly messages: Iterable<string>
  readonly truth: SimulationTruth
  /** truth.json. */
  readonly truthJson: string
}

/**
 * Runs the invented plant: what its people declared, every message it sent, and what was really going on.
 * @throws RangeError if an option is out of its range
 */
export function simulatePlant({ seed, days = 60, start = '2026-04-01T00:00:00Z' }: SimulationOptions): Simulation {
  const startMs = parseInstant(start)
  if (startMs === undefined)
    throw new RangeError(`start must be an RFC 3339 time such as 2026-04-01T00:00:00Z, got ${start}`)
  if (!Number.isSafeInteger(seed)) throw new RangeError(`seed must be a whole number, got ${seed}`)
  if (!Number.isInteger(days) || days < 1 || days > 400)
    throw new RangeError(`days must be a whole number from 1 to 400, got ${days}`)

  const endMs = startMs + days * DAY_MS
  // Drawn for longer than the run, so that a shorter run is the beginning of the longer one.
  const backwashes = drawBackwashes(seed, startMs, startMs + Math.max(days, SCENARIO_DAYS) * DAY_MS)
  const scenario = drawScenario(seed, startMs, backwashes)
  const water = drawWater(seed, startMs, endMs, scenario.storms, backwashes)
  const errorAt = drawErrors(seed, scenario)
  const visits = planVisits(seed, scenario, errorAt, water)
  const bottles = drawBottles(seed, startMs, endMs, water, scenario, backwashes)
  const nature = { seed, scenario, water, errorAt, visits }
  const truth = describeTruth({ seed, startMs, days, scenario, water, errorAt, bottles })
  const register = hollinWeirRegister(startMs)
  return {
    register,
    registerYaml: registerText(register),
    messages: streamLines(nature, factArrivals(nature, bottles, backwashes, startMs, endMs), startMs, endMs),
    truth,
    truthJson: `${JSON.stringify(truth, null, 2)}\n`,
  }
}

const SCENARIO_DAYS = 60
