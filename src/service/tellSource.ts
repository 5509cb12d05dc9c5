import type { Logger } from 'pino'
import type { SourceListener } from './intake.js'
import { sparingly } from './log.js'

/** Logs what a feed has to tell of those it hears. */
export function tellSource(log: Logger, feed: string, now: () => number): SourceListener {
  const gap = sparingly<string>(now, (gaps, node) => log.warn({ feed, gaps, node }, GAP))
  return ({ kind, ...who }) => {
    if (kind === 'birth') log.info({ feed, ...who }, 'Sparkplug birth')
    else if (kind === 'death')
      log.warn({ feed, ...who }, 'Sparkplug death; nothing is taken from it until its next birth')
    else if (kind === 'stale_death')
      log.info({ feed, ...who }, 'A Sparkplug death of an earlier session came late; it changes nothing')
    else gap(who.node)
  }
}

const GAP =
  'Messages of an edge node were lost; what comes without a name is refused until its next birth, for which a host application can ask'
