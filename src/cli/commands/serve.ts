import { type Command, Option } from 'commander'
import { FEED_KINDS, type FeedKind } from '../../model/messages.js'
import { type MemberRunOptions, runMember } from '../../service/kafka/runMember.js'
import type { MetricsAddress } from '../../service/metricsServer.js'
import { runServe, type ServeOptions } from '../../service/serve.js'
import { metricsAddress, wholeNumber } from '../arguments.js'

interface ServeFlags {
  readonly register: readonly string[]
  readonly store?: string
  readonly ticks: 'clock' | 'event'
  readonly port?: number
  readonly kinds?: readonly FeedKind[]
  readonly drop?: string
  readonly events?: string
  readonly connections?: string
  readonly kafka?: boolean
  readonly createTopics?: number
  readonly prefix?: string
  readonly metrics?: MetricsAddress
  readonly logLevel?: NonNullable<ServeOptions['logLevel']>
}

export function addServe(program: Command, keep: (running: Promise<number>) => Promise<void>): void {
  program
    .command('serve')
    .description('Run the service for one plant or several until it is told to end (SIGTERM, SIGINT)')
    .requiredOption('--register <file...>', 'register.yaml of each plant')
    .option('--connections <file>', 'connections.yaml: brokers, databases and the like, with their logins')
    .option('--kafka', 'work as a member of a Kafka consumer group, over the topics in the connections')
    .option(
      '--create-topics <partitions>',
      'with --kafka: make the topics that are missing, the input with so many partitions',
      wholeNumber(1, 10_000),
    )
    .option('--store <path>', 'SQLite file, with several plants the folder of theirs; default: .turbidrift/<plant>.db')
    .addOption(
      new Option('--ticks <source>', 'clock: plant time is that of the machine; event: that of the messages')
        .choices(['clock', 'event'])
        .default('clock'),
    )
    .option(
      '--port <number>',
      'port of the embedded MQTT broker, on this machine only; 0 for a free one',
      wholeNumber(0, 65_535),
    )
    .addOption(
      new Option('--kinds <kind...>', 'kinds the embedded broker takes where the register declares no feeds').choices(
        FEED_KINDS,
      ),
    )
    .option(
      '--drop <folder>',
      'folder in which people put CSV or NDJSON files, each read once; with several plants <folder>/<plant>',
    )
    .option('--events <file>', 'add every event to a file as NDJSON; - for standard output')
    .option(
      '--metrics <address>',
      'serve metrics for Prometheus at http://HOST:PORT/metrics; a port alone: on this machine only',
      metricsAddress,
    )
    .option('--prefix <word>', 'what event types begin with; default turbidrift')
    .addOption(new Option('--log-level <level>', 'default info').choices(['debug', 'info', 'warn', 'error', 'silent']))
    .addHelpText(
      'after',
      `
Examples:
  turbidrift serve --register register.yaml
  turbidrift serve --register register.yaml --drop drop --events events.ndjson
  turbidrift serve --register register.yaml --connections connections.yaml
  turbidrift serve --register north.yaml south.yaml --connections connections.yaml --store /var/lib/turbidrift
  turbidrift serve --kafka --register north.yaml south.yaml --connections connections.yaml`,
    )
    .action((flags: ServeFlags, command: Command) => {
      if (flags.kafka !== true && flags.createTopics === undefined) return keep(runServe(toOptions(flags)))
      const problem = memberProblem(flags)
      if (problem !== undefined) command.error(`error: ${problem}`)
      return keep(runMember(toMemberOptions(flags)))
    })
}

/** What of the command line says nothing to a member of a group. */
function memberProblem(flags: ServeFlags): string | undefined {
  if (flags.kafka !== true) return '--create-topics needs --kafka'
  if (flags.connections === undefined) return '--kafka needs --connections'
  const strange = (['store', 'port', 'kinds', 'drop', 'events', 'metrics'] as const).find(
    name => flags[name] !== undefined,
  )
  return strange === undefined ? undefined : `--${strange} does not go with --kafka`
}

function toMemberOptions(flags: ServeFlags): MemberRunOptions {
  const { register, connections, ticks, prefix, createTopics, logLevel } = flags
  return {
    registerPaths: register,
    connectionsPath: connections!,
    ticks,
    ...(prefix === undefined ? {} : { prefix }),
    ...(createTopics === undefined ? {} : { createTopics }),
    ...(logLevel === undefined ? {} : { logLevel }),
  }
}

function toOptions(flags: ServeFlags): ServeOptions {
  const { register, connections, store, ticks, port, kinds, drop, events, prefix, metrics, logLevel } = flags
  return {
    registerPaths: register,
    ticks,
    ...(connections === undefined ? {} : { connectionsPath: connections }),
    ...(store === undefined ? {} : { storePath: store }),
    ...(port === undefined ? {} : { brokerPort: port }),
    ...(kinds === undefined ? {} : { kinds }),
    ...(drop === undefined ? {} : { dropFolder: drop }),
    ...(events === undefined ? {} : { eventsPath: events }),
    ...(prefix === undefined ? {} : { prefix }),
    ...(metrics === undefined ? {} : { metricsAt: metrics }),
    ...(logLevel === undefined ? {} : { logLevel }),
  }
}
