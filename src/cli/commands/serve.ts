import { type Command, Option } from 'commander'
import { FEED_KINDS, type FeedKind } from '../../model/messages.js'
import { runServe, type ServeOptions } from '../../service/serve.js'
import { wholeNumber } from '../arguments.js'

interface ServeFlags {
  readonly register: string
  readonly store?: string
  readonly ticks: 'clock' | 'event'
  readonly port?: number
  readonly kinds?: readonly FeedKind[]
  readonly drop?: string
  readonly events?: string
  readonly publish?: string
  readonly prefix?: string
  readonly logLevel?: NonNullable<ServeOptions['logLevel']>
}

export function addServe(program: Command, keep: (running: Promise<number>) => Promise<void>): void {
  program
    .command('serve')
    .description('Run the service for one plant until it is told to end (SIGTERM, SIGINT)')
    .requiredOption('--register <file>', 'register.yaml')
    .option('--store <file>', 'SQLite file; default: .turbidrift/<plant>.db')
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
    .option('--drop <folder>', 'folder in which people put CSV or NDJSON files; each is read once')
    .option('--events <file>', 'add every event to a file as NDJSON; - for standard output')
    .option('--publish <url>', 'broker to publish events to, such as mqtt://host:1883')
    .option('--prefix <word>', 'what event types begin with; default turbidrift')
    .addOption(new Option('--log-level <level>', 'default info').choices(['debug', 'info', 'warn', 'error', 'silent']))
    .addHelpText(
      'after',
      `
User name and password for brokers are taken from TURBIDRIFT_MQTT_USERNAME and TURBIDRIFT_MQTT_PASSWORD.

Examples:
  turbidrift serve --register register.yaml
  turbidrift serve --register register.yaml --drop drop --events events.ndjson`,
    )
    .action((flags: ServeFlags) => keep(runServe(toOptions(flags))))
}

function toOptions(flags: ServeFlags): ServeOptions {
  const { register, store, ticks, port, kinds, drop, events, publish, prefix, logLevel } = flags
  const username = process.env.TURBIDRIFT_MQTT_USERNAME
  const password = process.env.TURBIDRIFT_MQTT_PASSWORD
  return {
    registerPath: register,
    ticks,
    ...(store === undefined ? {} : { storePath: store }),
    ...(port === undefined ? {} : { brokerPort: port }),
    ...(kinds === undefined ? {} : { kinds }),
    ...(drop === undefined ? {} : { dropFolder: drop }),
    ...(events === undefined ? {} : { eventsPath: events }),
    ...(publish === undefined ? {} : { publishUrl: publish }),
    ...(prefix === undefined ? {} : { prefix }),
    ...(logLevel === undefined ? {} : { logLevel }),
    ...(username === undefined ? {} : { credentials: { username, password: password ?? '' } }),
  }
}
