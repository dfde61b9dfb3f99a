import { join } from 'node:path';
import fastifyCompress from '@fastify/compress';
import fastifyCookie from '@fastify/cookie';
import fastifyEtag from '@fastify/etag';
import fastifyFormbody from '@fastify/formbody';
import fastifyHelmet from '@fastify/helmet';
import fastifyMultipart from '@fastify/multipart';
import fastifyStatic from '@fastify/static';
import Fastify, { type FastifyServerOptions } from 'fastify';
import { serializerCompiler, type ZodTypeProvider } from 'fastify-type-provider-zod';
import { guideOf } from '../views/guide/contents.ts';
import * as auxiliaries from './auxiliaries/routes.ts';
import * as backup from './backup/routes.ts';
import { faultWords, guardSoundness } from './backup/unsoundRoutes.ts';
import { tellOpenBenches } from './bench/liveRoutes.ts';
import * as bench from './bench/routes.ts';
import * as calculators from './calculators/routes.ts';
import * as costing from './costing/routes.ts';
import type { Deps } from './deps.ts';
import * as dyes from './dyes/routes.ts';
import * as exports from './exports/routes.ts';
import * as fibres from './fibres/routes.ts';
import * as guide from './guide/routes.ts';
import { answerOnce } from './http/answerOnce.ts';
import { installApiDocument } from './http/apiDocument.ts';
import { apiScope } from './http/apiScope.ts';
import type { App, Feature } from './http/app.ts';
import { browserModuleRoutes } from './http/browserModules.ts';
import { refuseCrossSite } from './http/csrf.ts';
import { answerError, installErrorHandler } from './http/errorHandler.ts';
import { healthRoutes } from './http/health.ts';
import { refuseMonstrousJson } from './http/monstrousJson.ts';
import { problemApi } from './http/problems.ts';
import { requestLog } from './http/requestLog.ts';
import type { KeyPair } from './http/secureDoor.ts';
import { UnderWay } from './http/underWay.ts';
import { refuseHugeBodies } from './http/upload.ts';
import { validatorCompiler } from './http/validator.ts';
import { demandOwnName, trustOf } from './http/visitors.ts';
import * as imports from './imports/routes.ts';
import { lateDeeds } from './lots/late.ts';
import * as lots from './lots/routes.ts';
import * as matching from './matching/routes.ts';
import * as methods from './methods/routes.ts';
import * as near from './near/routes.ts';
import * as orders from './orders/routes.ts';
import { auditRequests } from './people/auditRoutes.ts';
import { demandDeclaredRoutes, demandSecondStep, guard, identify } from './people/guards.ts';
import { answersOf } from './people/keptAnswers.ts';
import * as people from './people/routes.ts';
import * as photoReadings from './photoReadings/routes.ts';
import * as photos from './photos/routes.ts';
import { questionDoors } from './questions/routes.ts';
import { readingProcess } from './readApart.ts';
import * as readings from './readings/routes.ts';
import * as recipes from './recipes/routes.ts';
import * as referenceCards from './referenceCards/routes.ts';
import * as sampling from './sampling/routes.ts';
import { findStudio } from './settings/queries.ts';
import * as settings from './settings/routes.ts';
import * as stock from './stock/routes.ts';
import * as swatches from './swatches/routes.ts';
import * as today from './today/routes.ts';
import * as voices from './voices/routes.ts';

/** What is asked by the features below, and what an answer does, is theirs. */
const questions = questionDoors(lateDeeds);

/** Features in their written order: each may import the earlier ones. */
const FEATURES: readonly Feature[] = [
  settings,
  people,
  photos,
  voices,
  calculators,
  fibres,
  dyes,
  auxiliaries,
  methods,
  questions,
  stock,
  recipes,
  readings,
  near,
  referenceCards,
  photoReadings,
  swatches,
  orders,
  lots,
  bench,
  matching,
  sampling,
  costing,
  exports,
  imports,
  backup,
  today,
  guide,
];

/** The service without a port, so that tests use the very same. Close it with app.close(); the database stays open. Long because it
 *  reads as the order in which a request meets everything. */
export async function buildApp(deps: Deps, keyPair: KeyPair | null = null): Promise<App> {
  const { config } = deps;
  const app = Fastify({
    logger: config.logLevel === 'silent' ? false : requestLog(config.logLevel),
    trustProxy: trustOf(config),
    bodyLimit: 2_000_000,
    forceCloseConnections: 'idle',
    // A client that hangs is disconnected: headers within 20 s, a whole request within five minutes (a photo over a bad
    // radio link), no silence longer than two. Open streams speak every 15 s.
    connectionTimeout: 120_000,
    requestTimeout: 300_000,
    keepAliveTimeout: 65_000,
    http: { headersTimeout: 20_000, connectionsCheckingInterval: 5_000 },
    frameworkErrors: answerError,
    routerOptions: { maxParamLength: 200 },
    ...(keyPair ? { https: { ...keyPair, minVersion: 'TLSv1.2' } } : {}),
  } as FastifyServerOptions).withTypeProvider<ZodTypeProvider>();
  app.setValidatorCompiler(validatorCompiler);
  app.setSerializerCompiler(serializerCompiler);
  demandDeclaredRoutes(app);
  installErrorHandler(app);

  await app.register(healthRoutes, deps);
  demandOwnName(app, config);
  await app.register(fastifyHelmet, {
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: ["'self'"],
        scriptSrc: ["'self'"],
        styleSrc: ["'self'"],
        imgSrc: ["'self'", 'data:', 'blob:'],
        mediaSrc: ["'self'", 'blob:'],
        fontSrc: ["'self'"],
        connectSrc: ["'self'"],
        objectSrc: ["'none'"],
        baseUri: ["'none'"],
        formAction: ["'self'"],
        frameAncestors: ["'none'"],
      },
    },
    // A studio's own network is plain http as a rule; a proxy with TLS in front sets this header itself.
    strictTransportSecurity: false,
    crossOriginEmbedderPolicy: false,
    crossOriginOpenerPolicy: false,
    originAgentCluster: false,
    referrerPolicy: { policy: 'same-origin' },
  });
  await app.register(fastifyCookie);
  await app.register(fastifyFormbody, { bodyLimit: 2_000_000 });
  await app.register(fastifyMultipart, {
    limits: { fileSize: config.maxUploadBytes, files: 4, fields: 200, fieldSize: 200_000 },
  });
  refuseMonstrousJson(app);
  refuseHugeBodies(app, 4 * config.maxUploadBytes + 2_000_000);
  await app.register(fastifyCompress, { threshold: 2048 });
  await app.register(fastifyEtag);
  app.register(async (assets) => {
    assets.addHook('onRoute', (route) => {
      route.config = { ...route.config, may: 'anyone' };
    });
    await assets.register(fastifyStatic, {
      root: join(config.packageRoot, 'static'),
      prefix: '/static/',
      cacheControl: false,
      wildcard: true,
      setHeaders: (reply, path) => {
        // Asked for anew each time (an unchanged file costs a 304): after an upgrade an old script must not meet a new page.
        reply.setHeader('cache-control', /\.(?:js|css)$/.test(path) ? 'no-cache' : 'public, max-age=3600');
        // The workers lie among the static files and serve the benches.
        if (!/[\\/](sw|swSync)\.js$/.test(path)) return;
        reply.setHeader('service-worker-allowed', '/lots/');
      },
    });
  });

  app.register(browserModuleRoutes);

  const letGo = readingProcess.hold();
  app.addHook('onClose', async () => letGo());

  app.decorateRequest('actor', null);
  app.decorateRequest('tokenScope', null);
  app.decorateRequest('tokenId', null);
  app.decorateRequest('surroundings', null as never);
  auditRequests(app, deps);
  const underWay = new UnderWay();
  app.addHook('onRequest', async (request, reply) => {
    identify(deps, request);
    const studio = findStudio(deps.db);
    request.surroundings = {
      studioName: studio?.name ?? 'Lot & Shade',
      personName: request.actor?.name ?? null,
      role: request.actor?.role ?? null,
      sample: studio?.sample === 1,
      fault: faultWords(deps),
      guide: guideOf(request.method, request.routeOptions.url),
    };
    refuseCrossSite(request, request.tokenId !== null);
    guard(request);
    demandSecondStep(deps, request, studio?.secondStepForOwners === 1);
    underWay.enter(request, reply);
  });
  guardSoundness(app, deps);

  await installApiDocument(app, config.version);
  tellOpenBenches(app, deps);
  for (const feature of [{ api: problemApi }, ...FEATURES] satisfies Feature[]) {
    app.register(async (scope) => {
      feature.pages?.(scope.withTypeProvider<ZodTypeProvider>(), deps);
    });
    app.register(
      async (scope) => {
        apiScope(scope.withTypeProvider<ZodTypeProvider>());
        answerOnce(scope.withTypeProvider<ZodTypeProvider>(), answersOf(deps));
        feature.api?.(scope.withTypeProvider<ZodTypeProvider>(), deps);
      },
      { prefix: '/api/v1' },
    );
  }
  return app;
}
