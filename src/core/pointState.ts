import { type DayInHand, newDayInHand, type PointDay } from '../compare/day.js'
import type { Difference } from '../compare/difference.js'
import { newOffsetLearner, type OffsetLearner } from '../compare/laboratoryOffset.js'
import type { MethodHabit } from '../compare/method.js'
import type { Pair } from '../compare/pair.js'
import { redundantLines, type WindowBuffer } from '../compare/redundant.js'
import type { SlowLine } from '../compare/slowLine.js'
import type { Verification } from '../compare/verification.js'
import { type GrabChart, newGrabChart } from '../detect/grabChart.js'
import { newRedundantChart, type RedundantChart } from '../detect/redundantChart.js'
import type { UnitEstimate } from '../diagnose/estimate.js'
import { newUnitSigns, type UnitSigns } from '../diagnose/signs/unitSigns.js'
import type { WorkAction } from '../model/messages.js'
import type { Point } from '../model/plant.js'
import type { Method } from '../model/units.js'
import type { Exclusion, ExclusionCounts, FindingKind, Outcome } from '../model/vocabulary.js'
import { type BlockLog, newBlockLog } from '../qualify/blockLog.js'
import { type CalibratingReading, type CondenseState, newCondenseState } from '../qualify/closeBlock.js'
import { type ErraticState, newErraticState } from '../qualify/erratic.js'
import { type GateState, newGateState } from '../qualify/gate.js'
import { type InferredService, newInferredService } from '../qualify/inferredService.js'
import type { OpenBlock } from '../qualify/openBlock.js'
import { newServiceState, type ServiceState } from '../qualify/serviceGate.js'
import type { Case } from '../recommend/case.js'
import type { Proof } from '../recommend/proof.js'
import { type CriteriaFold, newCriteriaFold } from './criteriaState.js'
import { newWorkDates, type WorkDates } from './datedWork.js'
import type { Fact } from './facts.js'
import type { Note } from './notes.js'
import { type HourlyLevels, newHourlyLevels } from './sights/hourlyLevels.js'
import type { PlannedSampling } from './plannedSampling.js'
import { newWorkFold, type WorkFold } from './workFold.js'

/** One analyzer before the fold: readings on their way into blocks. Not rebuilt; blocks are what a rebuild reads. */
export interface AnalyzerState {
  readonly open: Map<number, OpenBlock>
  readonly log: BlockLog
  readonly condense: CondenseState
  /** Feed of the newest reading: its silence is the feed's when that is down. */
  feed: string
  /** Mean light source level by day: day, per cent, readings; newest last, about two months. */
  lightDays: { readonly dayMs: number; meanPct: number; n: number }[]
  /** Newest readings marked calibrating: never process values, but they tell whether a reference stood still. */
  calibrating: CalibratingReading[]
  /** Readings left out, by reason, since the beginning. */
  readonly excluded: ExclusionCounts
}

/** Why a case is no more: put right and proven, or no longer borne out. */
export interface CaseEnd {
  readonly atMs: number
  readonly how: 'closed' | 'withdrawn'
  readonly reason: string
  /** What the track record counts; left out where the end says nothing of the request's worth. */
  readonly outcome?: Outcome
}

/** One unit as the fold over blocks and facts leaves it. Plain JSON: snapshots are copies of it. */
export interface UnitFold {
  readonly gate: GateState
  /** Why the newest block does not count. */
  against: Exclusion | null
  readonly grab: GrabChart
  readonly offset: OffsetLearner
  lastUsableMs: number | null
  levelNtu: number | null
  lastPairMs: number | null
  /** Last accepted adjustment: what was before it was another state of the analyzer. */
  adjustedMs: number
  cleaningsMs: number[]
  /** Times after which an error was gone without work, newest last. */
  recoveredMs: number[]
  works: { atMs: number; action: WorkAction; id: string | null; serial: string | null }[]
  /** The instrument, its standards, the visit in hand and what it says of the record before. */
  readonly work: WorkFold
  /** What dates required by rule, and habit, count from. */
  readonly dates: WorkDates
  readonly erratic: ErraticState
  /** What causes leave behind besides the error itself. */
  readonly signs: UnitSigns
  estimate: UnitEstimate | null
  opening: { held: number; laboratoryWaitMs: number | null }
  proof: Proof | null
  case: Case | null
  failed: WorkAction[]
  /** The last zero made a right analyzer wrong: its water was not zero. */
  zeroWaterSuspect: boolean
  findings: Partial<Record<FindingKind, number>>
  /** Ends of the newest blocks that count, for the pairs that look back at them. */
  usableEnds: number[]
  /** As found on references, newest last. */
  verifications: Verification[]
  /** How the last case ended. */
  ended: CaseEnd | null
  /** Readings of blocks that were left out, and pairs that were, by reason. */
  readonly excluded: ExclusionCounts
  readonly pairsExcluded: ExclusionCounts
}

/** One point as the fold leaves it. */
export interface PointFold {
  readonly service: ServiceState
  /** Where the plant sends no process states: what the readings themselves say of rest and restart. */
  readonly inferred: InferredService
  readonly units: UnitFold[]
  readonly lines: RedundantChart[]
  readonly window: WindowBuffer
  readonly day: DayInHand
  /** Grab samples read by another method: what they show beside the units, and since when the newest run of them. */
  methods: Partial<Record<Method, MethodHabit>>
  methodsDiffer: { readonly method: Method; readonly sinceMs: number; readonly lastMs: number } | null
  readonly levels: HourlyLevels
  /** Once the times of sampling look planned: from when on they count as less certain. */
  plannedTimes: PlannedSampling | null
  /** Time of the pair that waits for the next one to bear it out. */
  suspectMs: number | null
  /** Returns to service, newest last. */
  returnsMs: number[]
  lastGrabMs: number | null
  /** Begin of the blocks in a row in which two units differ by more than the tolerance. */
  grossSinceMs: number | null
  estimatedMs: number
  evidenceSinceEstimate: boolean
  pointCase: Case | null
  pointEnded: CaseEnd | null
  whichUnitSinceMs: number | null
  /** Pieces of evidence in a row over which a shared sample line explained what is seen. */
  lineHeld: number
  findings: Partial<Record<FindingKind, number>>
  /** What is counted for the published criteria the register names; null where it names none. */
  criteria: CriteriaFold | null
  /** Events that are said once, by key, since the last instant; a rebuild makes its own again. */
  notes: Note[]
}

export interface Snapshot {
  /** End of the last block it includes. */
  readonly endMs: number
  /** JSON of the fold. */
  readonly fold: string
}

export interface PointState {
  readonly id: string
  fold: PointFold
  /** Append-only logs of the fold; a rebuild cuts their tails. */
  pairs: LoggedPair[]
  differences: Difference[]
  days: PointDay[]
  /** By unit: what its slow lines showed at the last midnight, beside the other points of the plant. */
  slow: SlowLine[][]
  /** A day has closed, or was folded anew, since then. */
  slowIsOld: boolean
  snapshots: Snapshot[]
  facts: Fact[]
  /** Records that came too late to be taken, by reason. */
  readonly excluded: ExclusionCounts
  readonly analyzers: AnalyzerState[]
}

export type LoggedPair = Pair & { readonly dueMs: number }

export function newPointState(point: Point): PointState {
  return {
    id: point.id,
    fold: newPointFold(point),
    pairs: [],
    differences: [],
    days: [],
    slow: [],
    slowIsOld: false,
    snapshots: [],
    facts: [],
    excluded: {},
    analyzers: point.analyzers.map(newAnalyzerState),
  }
}

export function newAnalyzerState(): AnalyzerState {
  return {
    open: new Map(),
    log: newBlockLog(),
    condense: newCondenseState(),
    feed: '',
    lightDays: [],
    calibrating: [],
    excluded: {},
  }
}

export function newPointFold(point: Point): PointFold {
  return {
    service: newServiceState(),
    inferred: newInferredService(point.analyzers.length),
    units: point.analyzers.map(() => newUnitFold(point)),
    lines: redundantLines(point).map(newRedundantChart),
    window: { rowsNtu: [] },
    day: newDayInHand(point.analyzers.length),
    methods: {},
    methodsDiffer: null,
    levels: newHourlyLevels(),
    plannedTimes: null,
    suspectMs: null,
    returnsMs: [],
    lastGrabMs: null,
    grossSinceMs: null,
    estimatedMs: 0,
    evidenceSinceEstimate: false,
    pointCase: null,
    pointEnded: null,
    whichUnitSinceMs: null,
    lineHeld: 0,
    findings: {},
    criteria: newCriteriaFold(point),
    notes: [],
  }
}

function newUnitFold(point: Point): UnitFold {
  return {
    gate: newGateState(),
    against: null,
    grab: newGrabChart(),
    offset: newOffsetLearner(point.grab),
    lastUsableMs: null,
    levelNtu: null,
    lastPairMs: null,
    adjustedMs: 0,
    cleaningsMs: [],
    recoveredMs: [],
    works: [],
    work: newWorkFold(),
    dates: newWorkDates(),
    erratic: newErraticState(),
    signs: newUnitSigns(),
    estimate: null,
    opening: { held: 0, laboratoryWaitMs: null },
    proof: null,
    case: null,
    failed: [],
    zeroWaterSuspect: false,
    findings: {},
    usableEnds: [],
    verifications: [],
    ended: null,
    excluded: {},
    pairsExcluded: {},
  }
}
