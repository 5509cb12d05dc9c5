import { MINUTE_MS } from '../model/time.js'
import type { WorkAction } from '../model/messages.js'
import { type ErrorAt, biasNtu } from './analyzerError.js'
import { analyzerOf, classOf, pointOf, PRIMARY_STANDARD } from './hollinWeir.js'
import { type RandomStream, randomStream } from './random.js'
import type { Scenario } from './scenario.js'
import { levelAt, type Water } from './water.js'

/** One stay of the crew at an analyzer, from `maintenance_on` to `maintenance_off`. */
export interface Visit {
  readonly analyzer: string
  readonly onMs: number
  readonly offMs: number
  readonly steps: readonly WorkStep[]
}

export interface WorkStep {
  readonly atMs: number
  readonly action: WorkAction
  /** What stands in the cell while the step goes on; absent where the cell is open or runs on process water. */
  readonly inCellNtu?: number
  /** Further fields of the work record. */
  readonly record: Readonly<Record<string, unknown>>
}

/** The crew's visits of the run, the same whatever any service may say about the analyzers. */
export function planVisits(seed: number, scenario: Scenario, errorAt: ErrorAt, water: Water): readonly Visit[] {
  const random = randomStream(seed, 'work records')
  const hand = new Hand(random, errorAt, water)
  const s = scenario
  return [
    visit('FE6-A', [
      hand.zero('FE6-A', s.turbidZero.zeroMs, s.turbidZero.waterNtu, 'yearly zero, water from the bench jug'),
    ]),
    visit('CFE-A', [hand.span('CFE-A', s.wrongStandard.spanMs, 'CFE-B', [0, 0])]),
    visit('CW-A', [hand.span('CW-A', s.spanStep.halfDoneMs, 'CW-A', [0.02, 0.04])]),
    visit('CFE-C', [hand.clean('CFE-C', s.zeroRise.cleanedMs, false)]),
    visit('FE5-A', [
      {
        atMs: s.bubbles.flushedMs,
        action: 'line_flushed',
        record: { note: 'air vented at the new sample pump, back pressure set' },
      },
    ]),
    visit('CFE-C', [hand.zero('CFE-C', s.zeroRise.zeroMs, 0.008, 'zero water from the 0.1 µm cartridge')]),
    visit('FE6-A', [hand.zero('FE6-A', s.turbidZero.rezeroMs, 0.008, 'zero water from the 0.1 µm cartridge')]),
    visit('SW-A', [hand.clean('SW-A', s.fouling.cleanedMs, true)]),
    visit('FE3-B', [hand.zero('FE3-B', s.zeroFall.zeroMs, 0.008, 'zero water from the 0.1 µm cartridge')]),
    visit('CW-A', [
      hand.span(
        'CW-A',
        s.spanStep.properMs,
        'CW-A',
        [-0.004, 0.004],
        'cell of the standard wiped and turned to its mark',
      ),
    ]),
    visit('RW-B', hand.newLightSource('RW-B', s.ageing.replacedMs)),
  ].sort((a, b) => a.onMs - b.onMs)
}

/** The effect of a step begins at its time; the crew is there 20 minutes before the first and leaves 10 after the last. */
function visit(analyzer: string, steps: readonly WorkStep[]): Visit {
  const times = steps.map(step => step.atMs)
  return { analyzer, onMs: Math.min(...times) - 20 * MINUTE_MS, offMs: Math.max(...times) + 10 * MINUTE_MS, steps }
}

/** Fills in the records as a careful person would: as found before touching, as left after. */
class Hand {
  constructor(
    private readonly random: RandomStream,
    private readonly errorAt: ErrorAt,
    private readonly water: Water,
  ) {}

  zero(analyzerId: string, atMs: number, waterNtu: number, note: string): WorkStep {
    const reference = { type: 'zero_water', assigned: 0, standardUncertainty: 0.01 }
    const asFound = this.shown(analyzerId, atMs - MINUTE_MS, waterNtu)
    return step(atMs, 'zero', waterNtu, { reference, asFound, asLeft: 0, accepted: true, note })
  }

  /**
   * Spanned on the standard of `ownerId` until the reading came within this share of the assigned value. What error
   * stays is the standard's: it does not scatter here as its value says (another unit's, or a cell put in turned).
   */
  span(
    analyzerId: string,
    atMs: number,
    ownerId: string,
    leftWithin: readonly [number, number],
    note?: string,
  ): WorkStep {
    const standard = analyzerOf(ownerId).standard
    const asLeft = rounded(analyzerId, standard.assignedNtu * (1 + this.random.between(...leftWithin)))
    const inCellNtu = asLeft / (1 + this.errorAt(analyzerId, atMs).spanRel)
    const asFound = this.shown(analyzerId, atMs - MINUTE_MS, inCellNtu)
    const reference = { type: 'secondary_standard', id: standard.id, assigned: standard.assignedNtu }
    const record = { reference, asFound, asLeft, accepted: true }
    return step(atMs, 'span', inCellNtu, note === undefined ? record : { ...record, note })
  }

  /** As found and after cleaning in process water; where a portable meter was at hand, its readings beside. */
  clean(analyzerId: string, atMs: number, meterAtHand: boolean): WorkStep {
    const levelNtu = levelAt(this.water, pointOf(analyzerId).id, atMs)
    const record = {
      asFound: this.shown(analyzerId, atMs - MINUTE_MS, levelNtu),
      asFoundClean: this.shown(analyzerId, atMs, levelNtu),
      accepted: true,
    }
    if (!meterAtHand)
      return step(atMs, 'cleaned', undefined, { ...record, note: 'window and cell wiped, little to be seen' })
    const beside = (): number => rounded(analyzerId, levelNtu * (1 + 0.02 * this.random.normal()))
    return step(atMs, 'cleaned', undefined, {
      ...record,
      besideBefore: beside(),
      besideAfter: beside(),
      note: 'brown film on the window',
    })
  }

  newLightSource(analyzerId: string, atMs: number): readonly WorkStep[] {
    const { assignedNtu, ...primary } = PRIMARY_STANDARD
    const own = analyzerOf(analyzerId).standard
    const newlyAssigned = rounded(analyzerId, own.assignedNtu * (1 + this.random.between(-0.01, 0.01)))
    const before = this.shown(analyzerId, atMs - 30 * MINUTE_MS, assignedNtu)
    return [
      {
        atMs: atMs - 25 * MINUTE_MS,
        action: 'light_source_replaced',
        record: { note: 'light source at the end of its life' },
      },
      step(atMs, 'calibrated_primary', assignedNtu, {
        reference: {
          type: 'primary_standard',
          id: primary.id,
          lot: primary.lot,
          assigned: assignedNtu,
          standardUncertainty: primary.standardUncertaintyNtu,
        },
        asFound: before,
        asLeft: rounded(analyzerId, assignedNtu + 0.1 * this.random.between(-1, 1)),
        accepted: true,
      }),
      step(atMs + 20 * MINUTE_MS, 'standard_assigned', newlyAssigned, {
        reference: { type: 'secondary_standard', id: own.id, assigned: newlyAssigned },
        accepted: true,
      }),
    ]
  }

  private shown(analyzerId: string, atMs: number, inCellNtu: number): number {
    const bias = biasNtu(analyzerId, this.errorAt(analyzerId, atMs), inCellNtu)
    return rounded(analyzerId, inCellNtu + bias + (0.0005 + 0.002 * inCellNtu) * this.random.normal())
  }
}

function step(atMs: number, action: WorkAction, inCellNtu: number | undefined, record: WorkStep['record']): WorkStep {
  return inCellNtu === undefined ? { atMs, action, record } : { atMs, action, inCellNtu, record }
}

function rounded(analyzerId: string, ntu: number): number {
  const { perNtu } = classOf(analyzerId)
  const value = Math.round(ntu * perNtu) / perNtu
  return value === 0 ? 0 : value
}
