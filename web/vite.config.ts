import { defineConfig } from "vite";

// Fixed names: the server embeds exactly these three files.
export default defineConfig({
  base: "/",
  build: {
    outDir: "../crates/server/page",
    emptyOutDir: true,
    assetsInlineLimit: 0,
    cssCodeSplit: false,
    modulePreload: false,
    target: "es2022",
    rollupOptions: {
      output: {
        entryFileNames: "page.js",
        chunkFileNames: "page-[name].js",
        assetFileNames: "page[extname]",
      },
    },
  },
});
