import type { Kind } from '../../model/messages.js'
import type { EventType } from '../../model/vocabulary.js'

export const KIND_DESCRIPTION: Readonly<Record<Kind, string>> = {
  reading: 'One reading of an analyzer.',
  grab: 'A laboratory result for a bottle taken at a point.',
  work: 'Work at an analyzer, with its responses to a reference before and after where they were read.',
  response:
    'The answer of the crew to a recommendation. A deferral also needs until, at most 30 days on, and a reason.',
  process: 'What the process does at a point.',
  laboratory_check: 'The laboratory instrument read against a reference.',
  register: 'The register, as the service records it at start and at each accepted edit. Not for feeds.',
  tick: 'Plant time moves on. Written by the service, found in recordings. Not for feeds.',
}

const RECOMMENDATION = 'The whole recommendation as it now stands.'

/** Name of the one message out that is no event. */
export const SERVICE_STATUS = 'service.status'
export const SERVICE_STATUS_DESCRIPTION =
  'How the service itself stands with one plant: at each start and change, each minute, and at its end.'

export const EVENT_DESCRIPTION: Readonly<Record<EventType, string>> = {
  'recommendation.opened': `Something is asked for. ${RECOMMENDATION}`,
  'recommendation.revised': `What is asked, or why, has changed. ${RECOMMENDATION}`,
  'recommendation.escalated': `It has become more urgent. ${RECOMMENDATION}`,
  'recommendation.answered': `The crew has acknowledged, deferred or rejected it. ${RECOMMENDATION}`,
  'recommendation.withdrawn': `The evidence no longer supports it. ${RECOMMENDATION}`,
  'recommendation.closed': `It is settled. ${RECOMMENDATION}`,
  'recommendation.reopened': `The work did not help. ${RECOMMENDATION}`,
  'analyzer.status': 'How an analyzer stands: on each change and at least hourly.',
  'analyzer.finding': 'Something is true now of an analyzer or a point: stuck, silent, bubbles and the like.',
  'reference.suspect': 'A grab sample, a standard, zero water, the laboratory or a work record is in doubt.',
  'work.confirmed': 'Readings after the work show that it helped.',
  'work.not_confirmed': 'Readings after the work show that it did not help.',
  'work.undecided': 'Two weeks after the work it cannot be told whether it helped.',
  'shift.summary': 'What is open, found and left out, at the end of a shift.',
  'message.rejected': 'A message was refused, with the field, the value and the rule.',
}
