import { toCloudEvent } from '../../src/model/cloudEvent.js'
import type { PlantEvent } from '../../src/model/events.js'
import { eventId } from '../../src/model/identity.js'
import { EVENT_TYPES, type EventType } from '../../src/model/vocabulary.js'
import { recommendationData, statusData } from './explanationFixture.js'

const PLANT = 'hollin-weir'
const TIME = '2026-05-19T06:00:00Z'

/** One event of each type, as the core makes them. */
export function eventSamples(): readonly PlantEvent[] {
  return EVENT_TYPES.map(
    type =>
      ({
        id: eventId(PLANT, 'FE3-B', type, 1),
        type,
        source: PLANT,
        subject: 'FE3/FE3-B',
        time: TIME,
        data: dataOf(type),
      }) as PlantEvent,
  )
}

export function cloudEventSamples(): readonly ReturnType<typeof toCloudEvent>[] {
  return eventSamples().map(event => toCloudEvent(event, 'turbidrift', '0.1.0'))
}

function dataOf(type: EventType): PlantEvent['data'] {
  switch (type) {
    case 'analyzer.status':
      return statusData()
    case 'analyzer.finding':
      return {
        summary: 'FE2-A shows the same value since 02:10 UTC.',
        notify: 'at_once',
        analyzer: 'FE2-A',
        point: 'FE2',
        finding: 'stuck',
        phase: 'began',
        since: TIME,
        detail: { value: 0.061, repeats: 48, unit: 'NTU' },
      }
    case 'reference.suspect':
      return {
        summary: 'Grab L-4407 at CFE is far from the five before it.',
        notify: 'at_once',
        reference: 'grab',
        point: 'CFE',
        sampleId: 'L-4407',
        at: TIME,
        because: ['4.6 standard uncertainties from the median of the last five pairs.'],
        ask: 'Take another grab.',
      }
    case 'work.confirmed':
    case 'work.not_confirmed':
    case 'work.undecided':
      return {
        summary: 'Zero on FE3-B of 20 May helped: 5 grabs agree within 0.3 tolerance.',
        notify: 'shift_summary',
        analyzer: 'FE3-B',
        point: 'FE3',
        work: { at: TIME, action: 'zero', id: 'WO-77' },
        pairs: 5,
        before: { value: -0.0388, ci95: [-0.0462, -0.0313] },
        after: { value: 0.001, ci95: [-0.008, 0.01] },
        toleranceNtu: 0.05,
        because: ['The 90 % interval lies inside 0.8 tolerance.'],
      }
    case 'shift.summary':
      return {
        summary: 'One request is open.',
        notify: 'shift_summary',
        from: '2026-05-18T22:00:00Z',
        to: TIME,
        open: [
          {
            recommendation: recommendationData().recommendation,
            target: { analyzer: 'FE3-B' },
            urgency: 'soon',
            action: 'zero',
            summary: 'FE3-B reads low.',
          },
        ],
        awaitingProof: [{ target: { point: 'CFE' }, summary: 'CFE-C was cleaned.', missing: ['4 grab samples'] }],
        findings: [
          { analyzer: 'FE2-A', finding: 'stuck', since: TIME, hours: 28, summary: 'FE2-A: stuck for 28.0 h.' },
        ],
        notAssessed: ['BW-A'],
        excluded: { repeat: 4, bubble: 2 },
      }
    case 'message.rejected':
      return {
        summary: 'grab.value: "abc" is refused: must be a number',
        notify: 'shift_summary',
        code: 'invalid_field',
        field: 'grab.value',
        value: '"abc"',
        rule: 'must be a number',
      }
    case 'recommendation.opened':
    case 'recommendation.revised':
    case 'recommendation.escalated':
    case 'recommendation.answered':
    case 'recommendation.withdrawn':
    case 'recommendation.closed':
    case 'recommendation.reopened':
      return recommendationData()
  }
}
