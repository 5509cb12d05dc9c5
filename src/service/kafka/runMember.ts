import type { Logger } from 'pino'
import { NO_CONNECTIONS, readConnectionsFile } from '../../adapters/connectionsFile.js'
import { kafkaClient } from '../../adapters/kafka/kafkaClient.js'
import { kafkaGroup } from '../../adapters/kafka/kafkaGroup.js'
import { openKafkaLog } from '../../adapters/kafka/kafkaLog.js'
import { sayKafkaError } from '../../adapters/kafka/kafkaErrors.js'
import { missingRight } from '../../adapters/kafka/rights.js'
import { checkTopics } from '../../adapters/kafka/topics.js'
import { registerMessage } from '../../core/registerInput.js'
import { createLog, type LogLevel } from '../log.js'
import { PLANT_CORE } from '../plantCore.js'
import { onFailure, onSignal, refuse } from '../processEnd.js'
import { readRegisters } from '../readRegisters.js'
import { schedule } from '../schedule.js'
import { secretGuard } from '../secretGuard.js'
import { EVENT_TYPE_PREFIX, SOFTWARE_VERSION } from '../version.js'
import { endProcess } from './endProcess.js'
import { startMember } from './member.js'
import { plantDirectory } from './plantOfRecord.js'

export interface MemberRunOptions {
  readonly registerPaths: readonly string[]
  readonly connectionsPath: string
  readonly ticks: 'clock' | 'event'
  /** Types of events begin with it; default `turbidrift`. */
  readonly prefix?: string
  /** Make the topics that are missing, the input with so many partitions. */
  readonly createTopics?: number
  readonly logLevel?: LogLevel
}

/**
 * Runs a member of the group until SIGTERM or SIGINT, then ends in order: the batch at hand is committed, state is
 * saved, the group is left. A second signal ends at once; nothing is lost by that either.
 * @returns exit code: 0 after a signal, 1 where it could not start or go on
 */
export async function runMember(options: MemberRunOptions): Promise<number> {
  const read = await readConnectionsFile(options.connectionsPath, process.env)
  const logger = createLog(options.logLevel, secretGuard(read.ok ? read.connections : NO_CONNECTIONS))
  onFailure(logger)
  const registers = await readRegisters(options.registerPaths, logger)
  const problems = [...(registers.ok ? [] : registers.problems), ...(read.ok ? [] : read.problems)]
  if (!registers.ok || !read.ok) return refuse(problems)
  const connection = read.connections.kafka
  if (connection === undefined) return refuse([`${options.connectionsPath}: must have kafka, for serve --kafka`])
  if (read.connections.influx !== undefined) logger.warn('Members write no points for dashboards: influx is not used')
  const kafka = kafkaClient(connection, logger)
  const topics = await checkTopics(kafka, connection, options.createTopics)
  if (!topics.ok) return refuse(topics.problems)
  const lacks = await missingRight(kafka, connection)
  if (lacks !== undefined) return refuse([lacks])
  for (const warning of topics.warnings) logger.warn({ warning }, 'The topics could not be checked')
  try {
    const log = await openKafkaLog(kafka)
    const { partitions } = topics
    const member = await startMember({
      log,
      group: kafkaGroup(kafka, connection),
      core: PLANT_CORE,
      registerMessage,
      settings: {
        ...connection,
        partitions,
        ticks: options.ticks,
        prefix: options.prefix ?? EVENT_TYPE_PREFIX,
        softwareVersion: SOFTWARE_VERSION,
      },
      directory: plantDirectory(registers.files, partitions),
      logger,
      now: Date.now,
      schedule,
    })
    return await untilEnd(member, log, logger)
  } catch (error) {
    const problem = `Kafka at ${connection.brokers.join(', ')}: ${sayKafkaError(error, connection.tls !== undefined)}`
    return endProcess(refuse([problem]), Promise.resolve())
  }
}

async function untilEnd(
  member: Awaited<ReturnType<typeof startMember>>,
  log: Awaited<ReturnType<typeof openKafkaLog>>,
  logger: Logger,
): Promise<number> {
  const release = onSignal(signal => {
    logger.info({ signal }, 'Ending')
    void member.leave()
  })
  const code = await member.ended
  release()
  return endProcess(code, log.close())
}
