import { type Command, InvalidArgumentError, Option } from 'commander'
import { runBridge } from '../../service/kafka/runBridge.js'
import { LOG_LEVELS, type LogLevel } from '../../service/log.js'
import { isName, NAME_RULE } from '../../model/names.js'

interface BridgeFlags {
  readonly register: readonly string[]
  readonly connections: string
  readonly shared?: string
  readonly logLevel?: LogLevel
}

export function addBridge(program: Command, keep: (running: Promise<number>) => Promise<void>): void {
  program
    .command('bridge')
    .description('Copy the MQTT feeds of plants to Kafka, keyed by plant, until told to end (SIGTERM, SIGINT)')
    .requiredOption('--register <file...>', 'register.yaml of each plant, whose feeds are copied')
    .requiredOption('--connections <file>', 'connections.yaml, with the MQTT brokers and kafka')
    .option(
      '--shared <group>',
      'share the messages with the other bridges of this group, one on each machine',
      groupName,
    )
    .addOption(new Option('--log-level <level>', 'default info').choices(LOG_LEVELS))
    .addHelpText(
      'after',
      `
A message is acknowledged to MQTT when Kafka has it. What cannot be read goes to the dead letters. Members take of it
the kinds that stand under kafka.kinds in the connections.

Examples:
  turbidrift bridge --register register.yaml --connections connections.yaml
  turbidrift bridge --register north.yaml south.yaml --connections connections.yaml --shared bridges`,
    )
    .action(({ register, connections, shared, logLevel }: BridgeFlags) =>
      keep(
        runBridge({
          registerPaths: register,
          connectionsPath: connections,
          ...(shared === undefined ? {} : { shared }),
          ...(logLevel === undefined ? {} : { logLevel }),
        }),
      ),
    )
}

/** Neither wildcards nor levels may stand in it: OASIS MQTT 5.0 §4.8.2. */
function groupName(text: string): string {
  if (isName(text)) return text
  throw new InvalidArgumentError(`must be ${NAME_RULE}.`)
}
