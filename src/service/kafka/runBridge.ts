import { type Connections, NO_CONNECTIONS, readConnectionsFile } from '../../adapters/connectionsFile.js'
import { kafkaClient } from '../../adapters/kafka/kafkaClient.js'
import { recordSender } from '../../adapters/kafka/recordSender.js'
import { checkTopics } from '../../adapters/kafka/topics.js'
import type { RegisterFile } from '../../model/register.js'
import { resolveFeeds } from '../feeds.js'
import { createLog, type LogLevel } from '../log.js'
import { onFailure, onSignal, refuse } from '../processEnd.js'
import { readRegisters } from '../readRegisters.js'
import { schedule } from '../schedule.js'
import { secretGuard } from '../secretGuard.js'
import { type BridgedFeed, startBridge } from './bridge.js'
import { endProcess } from './endProcess.js'
import { createForwarder } from './forwarder.js'

export interface BridgeRunOptions {
  readonly registerPaths: readonly string[]
  readonly connectionsPath: string
  /** Name of a shared subscription, where several bridges divide the messages among them. */
  readonly shared?: string
  readonly logLevel?: LogLevel
}

/**
 * Copies the MQTT feeds of the registers to Kafka until SIGTERM or SIGINT; then sends and acknowledges what it holds.
 * @returns exit code: 0 after a signal, 1 where it could not start or go on
 */
export async function runBridge(options: BridgeRunOptions): Promise<number> {
  const read = await readConnectionsFile(options.connectionsPath, process.env)
  const log = createLog(options.logLevel, secretGuard(read.ok ? read.connections : NO_CONNECTIONS))
  onFailure(log)
  const registers = await readRegisters(options.registerPaths, log)
  const problems = [...(registers.ok ? [] : registers.problems), ...(read.ok ? [] : read.problems)]
  if (!registers.ok || !read.ok) return refuse(problems)
  const connection = read.connections.kafka
  if (connection === undefined) return refuse([`${options.connectionsPath}: must have kafka, for bridge`])
  const feeds = bridgedFeeds(registers.files, read.connections)
  if (!feeds.ok) return refuse(feeds.problems)
  const kafka = kafkaClient(connection, log)
  const topics = await checkTopics(kafka, connection, undefined)
  if (!topics.ok) return refuse(topics.problems)

  let end: (code: number) => void = () => {}
  const ended = new Promise<number>(resolve => {
    end = resolve
  })
  const sender = recordSender(kafka)
  const forwarder = createForwarder({
    sender,
    schedule,
    failed: (err, attempt) => log.warn({ err, attempt }, 'Messages could not be handed over and will be sent again'),
    lost: err => {
      log.fatal({ err }, 'The bridge cannot go on')
      end(1)
    },
  })
  const { shared } = options
  const stop = startBridge({ feeds: feeds.feeds, topics: connection.topics, shared, forwarder, log, now: Date.now })
  log.info({ feeds: feeds.feeds.length, topic: connection.topics.in }, 'Bridge started')
  const release = onSignal(signal => {
    log.info({ signal }, 'Ending')
    end(0)
  })
  const code = await ended
  release()
  await stop()
  log.info({ code }, 'Bridge ended')
  return endProcess(code, sender.close())
}

type BridgedFeeds =
  | { readonly ok: true; readonly feeds: readonly BridgedFeed[] }
  | { readonly ok: false; readonly problems: readonly string[] }

/** The feeds that can be copied: messages of one packet each, from a broker of the plant. */
function bridgedFeeds(files: readonly RegisterFile[], connections: Connections): BridgedFeeds {
  const problems: string[] = []
  const feeds: BridgedFeed[] = []
  for (const file of files) {
    const { plant } = file
    const births = (file.feeds ?? []).filter(({ type }) => type === 'sparkplug')
    for (const { name } of births) {
      problems.push(
        `feed ${name} of ${plant}: a bridge cannot carry Sparkplug B, whose messages mean nothing without the births before them; use serve, or a feed of type mqtt`,
      )
    }
    const resolved = resolveFeeds(file, { connections, defaultKinds: ['reading'], alone: false })
    if (!resolved.ok) {
      problems.push(...resolved.problems)
      continue
    }
    const { embedded, remote } = resolved.feeds
    for (const { name } of embedded) {
      problems.push(`feed ${name} of ${plant}: must name a connection or a url, for a bridge has no broker of its own`)
    }
    feeds.push(...remote.map(feed => ({ plant, feed })))
  }
  return problems.length > 0 ? { ok: false, problems } : { ok: true, feeds }
}
