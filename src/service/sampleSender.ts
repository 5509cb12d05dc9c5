import mqtt from 'mqtt'
import { readBytes } from '../adapters/inputFiles.js'
import { createLineSplitter } from '../adapters/lineSplitter.js'

export interface SampleSenderOptions {
  readonly url: string
  /** NDJSON, plain or gzip. */
  readonly file: string
  readonly topic: string
  /** Messages that may be under way without an acknowledgement. */
  readonly inFlight: number
  /** @param line the last one acknowledged */
  readonly progress: (acknowledged: number, line: string) => void
  /** Ends it before all is sent. */
  readonly signal?: AbortSignal
}

/**
 * Publishes each line of a file with QoS 1 as fast as the other side acknowledges, like a gateway with a full store. While the
 * other side is away it waits, and then sends again what was not acknowledged.
 * @returns lines acknowledged  @throws where the broker refuses or the file cannot be read
 */
export async function sendSamples(options: SampleSenderOptions): Promise<number> {
  const { signal } = options
  const client = await mqtt.connectAsync(options.url, { clientId: 'sample-sender' })
  // A lost connection heals by itself: what was not acknowledged is sent again.
  client.on('error', () => {})
  let underWay = 0
  let acknowledged = 0
  let goOn: (() => void) | undefined
  let failed: Error | undefined
  const waiting: string[] = []

  signal?.addEventListener('abort', () => {
    client.end(true)
    goOn?.()
  })

  const settle = (line: string, error: Error | undefined): void => {
    underWay--
    failed ??= error
    acknowledged++
    if (acknowledged % PROGRESS_EVERY === 0) options.progress(acknowledged, line)
    if (underWay < options.inFlight) goOn?.()
  }
  const room = async (most: number): Promise<void> => {
    while (underWay > most && signal?.aborted !== true) {
      await new Promise<void>(resolve => {
        goOn = resolve
      })
    }
  }

  const publish = (line: string): void => {
    if (signal?.aborted === true) return
    client.publish(options.topic, line, { qos: 1 }, error => {
      if (error?.message === REFUSED_MEANWHILE) setImmediate(publish, line)
      else settle(line, error ?? undefined)
    })
  }

  const splitter = createLineSplitter({
    line: text => waiting.push(text),
    tooLong: () => {
      failed = new Error(`${options.file} holds a line that no message may have`)
    },
  })
  const drain = async (): Promise<void> => {
    for (const line of waiting.splice(0)) {
      await room(options.inFlight - 1)
      underWay++
      publish(line)
    }
  }
  const problem = await readBytes(options.file, splitter.push, async () => {
    await drain()
    return failed === undefined && signal?.aborted !== true
  })
  splitter.end()
  await drain()
  await room(0)
  if (signal?.aborted === true) return acknowledged
  await client.endAsync()
  if (problem !== undefined) throw new Error(`${problem.file}: ${problem.problem}`)
  if (failed !== undefined) throw failed
  return acknowledged
}

/** Where the connection is lost while the client still sends again what it has stored, it gives up all that came after that. */
const REFUSED_MEANWHILE = 'Connection closed'
const PROGRESS_EVERY = 2_000
