import type { RegisterFile } from '../../../src/model/register.js'

/** A moment of a scenario, for levels, faults and fields that change with time. */
export interface Moment {
  readonly atMs: number
  /** Days since the begin of the scenario, with fraction. */
  readonly day: number
  /** Hour of the day, UTC, with fraction. */
  readonly hour: number
}

export type OverTime = number | ((t: Moment) => number)

/** One situation at a part of the invented plant: what the water did, what was wrong, what was written down. */
export interface ScenarioPlan {
  /** `S01`, or the name of the file. */
  readonly id: string
  readonly title: string
  /** First day, UTC. */
  readonly from: string
  readonly days: number
  readonly seed?: number
  /** The points that take part, by their names in the invented plant. */
  readonly points: Readonly<Record<string, PointPlan>>
  /** What is wrong with analyzers; one that is not named is sound. */
  readonly analyzers?: Readonly<Record<string, AnalyzerPlan>>
  /** Records besides readings and planned grab samples: work, process states, single grab samples, checks. */
  readonly records?: readonly SentRecord[]
  readonly answers?: readonly Answer[]
  /** Changes what the register of the invented plant says. */
  readonly register?: (register: RegisterFile) => void
  /** Time between readings, s; default 300. */
  readonly intervalS?: number
}

export interface PointPlan {
  /** What the water is, NTU. A number wanders by some per cent about it. */
  readonly water: OverTime
  /** Grab samples by plan; `none` for no samples at all. Default: the plant's own rounds. */
  readonly grabs?: GrabRounds | 'none'
}

export interface GrabRounds {
  /** Times of the day, UTC, such as `07:30`. */
  readonly at: readonly string[]
  /** What the laboratory reports; default: the truth with its declared uncertainty. `undefined`: no sample. */
  readonly value?: (readNtu: number, t: Moment) => number | string | undefined
  readonly fields?: (t: Moment) => Record<string, unknown>
  /** Hours until the result comes in; default 2. */
  readonly comesAfterH?: number
}

export interface AnalyzerPlan {
  /** What it shows of the true level, before noise. */
  readonly reads?: (truthNtu: number, t: Moment) => number
  /** What arrives of what it shows: spikes, scaling, a stuck value; `undefined`: no reading. */
  readonly arrives?: (shownNtu: number, t: Moment) => number | undefined
  /** White noise, standard deviation, NTU; default 0.04 of the tolerance. */
  readonly noiseNtu?: number
  /** Members of a reading: flowLMin, lightSourcePct, temperatureC, state, quality. */
  readonly fields?: (t: Moment) => Record<string, unknown>
  /** Minutes until a reading comes in; default 0.5. */
  readonly comesAfterMin?: (t: Moment) => number
}

/** A message with the time it comes in; by default half a minute after its own. */
export interface SentRecord {
  readonly kind: string
  readonly comes?: string
  readonly [field: string]: unknown
}

/** An answer to whatever is open about a target at that time. */
export interface Answer {
  readonly time: string
  /** Analyzer, `point:FE3` or `laboratory:BENCH-1`. */
  readonly to: string
  readonly decision: 'acknowledged' | 'deferred' | 'rejected'
  readonly until?: string
  readonly reason?: string
}
