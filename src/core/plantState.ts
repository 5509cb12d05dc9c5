import type { LaboratoryInterval } from '../diagnose/evidence.js'
import type { RecommendationData, StatusData } from '../model/events.js'
import type { Response } from '../model/messages.js'
import type { Plant } from '../model/plant.js'
import type { RegisterFile } from '../model/register.js'
import type { Case } from '../recommend/case.js'
import type { Scorecard } from './scorecard.js'
import type { Note } from './notes.js'
import { newSights, type Sights } from './sights/sights.js'
import type { CaseEnd, PointState } from './pointState.js'
import type { Action, Cause, ExclusionCounts, FindingKind, Line, Urgency } from '../model/vocabulary.js'

/** All there is to know of one plant between two messages: plain data and packed arrays. */
export interface PlantState {
  readonly version: 1
  readonly id: string
  /** Null until the first register came in. */
  register: { readonly hash: string; readonly file: RegisterFile; readonly plant: Plant } | null
  /** Last tick; 0 before the first. Never goes back. */
  plantMs: number
  /** End of the first block that was worked through; 0 before it. */
  startedMs: number
  /** End of the last block that was worked through at all points; 0 before the first. */
  workedMs: number
  /** Times of the newest accepted readings, for event-time ticks. */
  readonly clock: { recentMs: number[]; tickMs: number }
  feedsDown: readonly string[]
  readonly points: Map<string, PointState>
  /** Intervals in which the laboratory's results are shifted, and the case about it. */
  laboratory: LaboratoryState
  readonly sights: Sights
  /** Earliest block from which a point must be rebuilt at the next instant, by point. */
  readonly rebuildFrom: Map<string, number>
  /** Identity of each record, hash of its content, time: repeats and conflicts. */
  readonly identities: Map<string, KnownRecord>
  responses: Response[]
  readonly published: Published
  readonly counts: Counts
}

/** A record that came: every content it came with, and whether another record corrects it. */
export interface KnownRecord {
  readonly hashes: string[]
  corrected: boolean
  readonly atMs: number
}

export interface LaboratoryState {
  intervals: LaboratoryInterval[]
  case: Case | null
  ended: CaseEnd | null
  /** A pair came in since the end of the interval in force was last looked for. */
  hasNewPairs: boolean
  /** Checks of laboratory instruments, newest last. */
  checks: {
    readonly atMs: number
    readonly laboratoryInstrument: string
    readonly reference: number
    readonly asFound: number
  }[]
  notes: Note[]
}

/** What the world was told; lies outside snapshots. */
export interface Published {
  readonly cases: Map<string, PublishedCase>
  /** Counters of recommendations by target and of events by subject and type: ids come from them. */
  readonly counters: Map<string, number>
  /** Keys of notes that were said, with their time. */
  readonly notes: Map<string, number>
  /** Findings that were said to have begun: key, since. */
  readonly findings: Map<string, ToldFinding>
  readonly statuses: Map<
    string,
    { readonly key: string; readonly atMs: number; readonly sinceMs: number; readonly data: StatusData }
  >
  /** How requests ended, by class, line and cause. */
  readonly scorecard: Scorecard
  /** The last recommendation about a target after it was closed, for `explain`. */
  readonly closed: Map<string, RecommendationData>
  /** Begin of the shift in hand, and how many `soon` openings were told at once in it. */
  shiftMs: number
  nextShiftMs: number
  /** What had been left out in all at the last summary. */
  excludedBefore: ExclusionCounts
  soonInShift: number
  rejectedThisHour: { hourMs: number; count: number }
}

/** A finding that was said to have begun. */
export interface ToldFinding {
  readonly finding: FindingKind
  readonly sinceMs: number
  readonly analyzer: string | null
  readonly point: string | null
  readonly feed?: string
  /** Of a common cause: those concerned, and when the first of them came back. */
  readonly analyzers?: readonly string[]
  readonly backSinceMs?: number
}

export interface PublishedCase {
  readonly id: string
  readonly target: string
  readonly kind: Case['kind']
  revision: number
  readonly openedMs: number
  knownMs: number
  /** What a revision is measured against. */
  told: {
    readonly action: Action
    readonly cause: Cause | null
    readonly ofTolerance: number
    readonly passed: boolean
    /** Work that its own record calls not done. */
    readonly notDoneMs: number | null
  }
  /** Lines that carried it, at its opening or since. */
  carriedBy: readonly Line[]
  urgency: Urgency
  /** Plant time since when it has been that urgent: the time to respond counts from there. */
  urgencySinceMs: number
  phase: Case['phase']
  answer: 'none' | 'acknowledged' | 'deferred' | 'rejected'
  answerUntilMs: number | null
  answerReason: string | null
  /** Size and lines when it was answered: a rejection yields to half a tolerance more or a new line. */
  answeredAt: { readonly ofTolerance: number; readonly lines: string } | null
  data: RecommendationData
}

export interface Counts {
  messages: number
  rejected: number
  repeats: number
  ignoredFields: number
  unknownAnalyzers: Map<string, number>
  /** Unknown names beyond the table of a thousand. */
  unknownOverflow: number
}

export function createPlantState(id: string): PlantState {
  return {
    version: 1,
    id,
    register: null,
    plantMs: 0,
    startedMs: 0,
    workedMs: 0,
    clock: { recentMs: [], tickMs: 0 },
    feedsDown: [],
    points: new Map(),
    laboratory: { intervals: [], case: null, ended: null, hasNewPairs: false, checks: [], notes: [] },
    sights: newSights(),
    rebuildFrom: new Map(),
    identities: new Map(),
    responses: [],
    published: {
      cases: new Map(),
      counters: new Map(),
      notes: new Map(),
      findings: new Map(),
      statuses: new Map(),
      scorecard: new Map(),
      closed: new Map(),
      shiftMs: 0,
      nextShiftMs: 0,
      excludedBefore: {},
      soonInShift: 0,
      rejectedThisHour: { hourMs: 0, count: 0 },
    },
    counts: { messages: 0, rejected: 0, repeats: 0, ignoredFields: 0, unknownAnalyzers: new Map(), unknownOverflow: 0 },
  }
}
