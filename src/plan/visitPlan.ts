import type { EvidenceData } from '../model/events.js'
import type { StandardType } from '../model/messages.js'
import type { Action, Assessment, Urgency } from '../model/vocabulary.js'
import type { StandardLabel } from '../recommend/standards.js'

/** Who is to be visited in the days ahead, who may be left alone and on what proof, and of whom too little is known. */
export interface VisitPlan {
  readonly plant: string
  readonly timeZone: string
  /** Plant time, RFC 3339; null before the first tick. */
  readonly at: string | null
  readonly days: number
  readonly visitMinutes: number
  /** By window; inside one by area, point and analyzer. Every analyzer stands once here, or in one of the two others. */
  readonly visits: readonly Visit[]
  readonly leaveAlone: readonly LeftAlone[]
  readonly notProven: readonly NotProven[]
  /** Requests about a point or the laboratory: work without a visit to one analyzer. */
  readonly requests: readonly PlannedRequest[]
  /** What holds at every visit. */
  readonly cautions: readonly string[]
  readonly byDay: readonly { readonly date: string; readonly visits: number; readonly minutes: number }[]
  /** Habitual visits, each analyzer's next from work on record, that no rule fixes and good evidence speaks against. */
  readonly savable: number
}

export type Reason = 'request' | 'rule' | 'forecast' | 'habit'
export type PlannedWork = Action | 'verification' | 'calibration' | 'visit'

/** One thing to do at a visit, and the instant by which it is to be done. */
export interface Job {
  readonly reason: Reason
  readonly work: PlannedWork
  readonly by: string
  /** "verification by rule, 7 days after 1 May 2026 (site procedure 12)" */
  readonly text: string
}

export interface Visit {
  readonly analyzer: string
  /** Of the instrument that hangs there. */
  readonly serial?: string
  readonly point: string
  readonly area?: string
  readonly window: { readonly from: string; readonly to: string }
  /** The earliest date of its jobs; `late` where it has passed or no window is left before it. */
  readonly by: string
  readonly late: boolean
  readonly minutes: number
  readonly jobs: readonly Job[]
  /** What falls due later inside the days ahead. */
  readonly later: readonly Job[]
  readonly bring: readonly Bring[]
  /** Which units of the point count while this one is out, or that none does. */
  readonly meanwhile: string
  readonly proof?: Proof
  readonly summary: string
}

/** A standard to take along. */
export interface Bring extends Partial<StandardLabel> {
  readonly type: StandardType
  /** What is wrong with it: past its date at the visit, not in the register, assigned before the last calibration. */
  readonly note?: string
}

/** Independent evidence that an analyzer is right. */
export interface Proof {
  readonly lines: readonly {
    readonly line: EvidenceData['line']
    readonly against: string
    readonly n: number
    readonly newest?: string
  }[]
  readonly biasNtu: number
  readonly ci95: readonly [number, number]
  readonly toleranceNtu: number
}

export interface LeftAlone {
  readonly analyzer: string
  readonly point: string
  readonly area?: string
  readonly since: string
  readonly proof: Proof
  /**
   * The habitual date that may be passed over; left out where habit sets none, no visit is on record to count from, a
   * rule fixes the dates, or it lies later.
   */
  readonly savable?: string
  /** The next date by rule, which stays. */
  readonly nextByRule?: string
  readonly summary: string
}

export interface NotProven {
  readonly analyzer: string
  readonly point: string
  readonly area?: string
  readonly assessment: Assessment
  readonly missing: readonly string[]
  readonly summary: string
}

export interface PlannedRequest {
  readonly target: string
  readonly action: Action
  readonly urgency: Urgency
  readonly respondBy: string
  readonly summary: string
}
