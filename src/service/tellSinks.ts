import type { Logger } from 'pino'
import type { SinkNews } from './outbox.js'
import { PROBE_MS } from './parking.js'

/** Logs how sinks are doing; of attempts that fail in a row only the first, second, fourth, eighth and so on. */
export function tellSinks(log: Logger): (sink: string, news: SinkNews) => void {
  return (sink, news) => {
    switch (news.kind) {
      case 'failed': {
        const { error: err, failures, retryMs } = news
        if (isPowerOfTwo(failures)) log.warn({ sink, err, failures, retryMs }, 'Events could not be handed over')
        return
      }
      case 'parked': {
        const { waiting, reason, forGood } = news
        const next = forGood ? 'at the next start' : `every ${PROBE_MS / 60_000} minutes`
        log.error({ sink, waiting, reason, tried: next }, 'A sink is parked; its events stay in the store')
        return
      }
      case 'recovered':
        log.info({ sink, waiting: news.waiting }, 'A parked sink takes events again and gets all that wait, in order')
        return
      case 'set_aside': {
        const { id, type, subject } = news.row
        log.error({ sink, event: id, type, subject, reason: news.reason }, 'An event was refused and is set aside')
        return
      }
      case 'cursor_lost':
        log.warn({ sink, err: news.error }, 'The cursor of a sink could not be kept; events may go out again')
    }
  }
}

function isPowerOfTwo(n: number): boolean {
  return (n & (n - 1)) === 0
}
