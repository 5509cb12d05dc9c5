import type { Logger } from 'pino'
import type { SourceListener } from './intake.js'
import { sparingly } from './log.js'

/** Logs what a feed has to tell of those it hears. */
export function tellSource(log: Logger, feed: string, now: () => number): SourceListener {
  const gap = sparingly(now, gaps =>
    log.warn({ feed, gaps }, 'Messages of an edge node were lost; what has no name is refused until its next birth'),
  )
  return ({ kind, ...who }) => {
    if (kind === 'birth') log.info({ feed, ...who }, 'Born')
    else if (kind === 'death') log.warn({ feed, ...who }, 'Dead; nothing is taken from it until its next birth')
    else if (kind === 'stale_death') log.info({ feed, ...who }, 'The death of an earlier session came late')
    else gap()
  }
}
